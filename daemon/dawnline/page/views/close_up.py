"""A look closer: any stretch from an hour to ten years, by the clock; drawn anew from the readings each time."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Final, NamedTuple
from urllib.parse import urlencode

from markupsafe import Markup

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.errors import InputError
from dawnline.page.ask import Ask, Page
from dawnline.review.close_up import close_up as drawn
from dawnline.review.close_up import title

SHORTEST_MS: Final = HOUR_MS
LONGEST_MS: Final = 3660 * DAY_MS
FIRST_MS: Final = 0
LAST_MS: Final = 4_102_444_800_000  # the year 2100
SPANS: Final = (("an hour", HOUR_MS), ("6 hours", 6 * HOUR_MS), ("a day", DAY_MS), ("a week", 7 * DAY_MS))


class Step(NamedTuple):
    """A link to another stretch; `key` does the same where the pictures have the focus."""

    name: str
    href: str
    key: str = ""


def close_up(ask: Ask) -> Page:
    """The stretch asked for, widened to an hour about its middle where it is shorter."""
    zone = ask.doors.settings.pond.zone
    start, end = _time(ask, "from", zone, fold=0), _time(ask, "to", zone, fold=1)
    if not start < end or end - start > LONGEST_MS:
        raise InputError("from and to: expected the earlier time first, and at most ten years between")
    if end - start < SHORTEST_MS:
        start = (start + end - SHORTEST_MS) // 2
        start, end = start - start % MINUTE_MS, start - start % MINUTE_MS + SHORTEST_MS
    week = ask.doors.close_up(start, end)
    data: dict[str, object] = {
        "heading": "A look closer",
        "body": "",
        "steps": steps(start, end, zone),
        "first": _local(start, zone),
        "last": _local(end, zone),
        "days": f"/days?from={_date(start, zone)}&to={_date(end - 1, zone)}",
    }
    if week is not None:
        inside = Markup(drawn(week))  # noqa: S704  our own drawing, which escapes what comes from outside
        data |= {"heading": title(week), "body": inside}
    return Page("close_up.html", data)


def steps(start: int, end: int, zone: tzinfo) -> list[Step]:
    """Earlier, later, closer, wider, and some spans about the middle: links, so that they work without a script."""
    span, middle = end - start, (start + end) // 2

    def about(width: int) -> str:
        return href(middle - width // 2, middle - width // 2 + width, zone)

    found = [
        Step("Earlier", href(start - span // 2, end - span // 2, zone), "ArrowLeft"),
        Step("Later", href(start + span // 2, end + span // 2, zone), "ArrowRight"),
    ]
    if span > SHORTEST_MS:
        found.append(Step("Closer", about(max(SHORTEST_MS, span // 2)), "+"))
    if span < LONGEST_MS:
        found.append(Step("Wider", about(min(LONGEST_MS, 2 * span)), "-"))
    return found + [Step(name.capitalize(), about(width)) for name, width in SPANS if width != span]


def href(start: int, end: int, zone: tzinfo) -> str:
    """Where a stretch [ms] is looked at closer; whole minutes, with their offset, for one hour a year comes twice."""
    times = (datetime.fromtimestamp(at // MINUTE_MS * 60, zone) for at in (start, end))
    return "/close-up?" + urlencode(dict(zip(("from", "to"), (f"{at:%Y-%m-%dT%H:%M%z}" for at in times), strict=True)))


def _time(ask: Ask, name: str, zone: tzinfo, *, fold: int) -> int:
    """A time of the pond [ms]; of the hour that comes twice the first, or the last, so that nothing is left out."""
    text = ask.query.get(name, "")
    try:
        at = datetime.fromisoformat(text)
        known = at if at.tzinfo is not None else at.replace(tzinfo=zone, fold=fold)
        found = round(known.timestamp() * 1000)
    except (ValueError, OverflowError):
        found = -1
    if not FIRST_MS <= found < LAST_MS:
        raise InputError(f"{name}: found {text[:25]!r}, expected a time such as 2026-06-14T05:00")
    return found - found % MINUTE_MS


def _local(at: int, zone: tzinfo) -> str:
    return f"{datetime.fromtimestamp(at / 1000, zone):%Y-%m-%dT%H:%M}"


def _date(at: int, zone: tzinfo) -> str:
    return f"{datetime.fromtimestamp(at / 1000, zone):%Y-%m-%d}"
