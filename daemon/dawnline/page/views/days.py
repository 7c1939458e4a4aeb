"""Days: any stretch of them, with its figures, as in the report."""

from __future__ import annotations

from datetime import date, timedelta, tzinfo
from typing import Final

from markupsafe import Markup

from dawnline.duration import parse_date
from dawnline.errors import InputError
from dawnline.page.ask import Ask, Page
from dawnline.page.views.close_up import Step, href
from dawnline.review.report import body, record_end, short_dates

WIDTHS: Final = (("a day", 1), ("a week", 7), ("a month", 31), ("a year", 366))
LONGEST: Final = 3660


def days(ask: Ask) -> Page:
    """The days asked for, to today where their end is not said; or the last seven of the record."""
    first, last = _date(ask, "from"), _date(ask, "to")
    if first and last is None:
        last = ask.doors.today()
    if first and last and not 0 <= (last - first).days < LONGEST:
        raise InputError(f"from {first} to {last}: expected the earlier day first, and at most ten years")
    week = ask.doors.week(first, last)
    if week is None:
        data: dict[str, object] = {
            "dates": "Days",
            "ends": "",
            "steps": [],
            "first": "",
            "last": "",
            "body": "",
            "by_the_clock": "",
        }
        return Page("days.html", data)
    stretch = week.stretch
    data = {
        "dates": short_dates(week),
        "ends": record_end(week),
        "steps": _steps(stretch.first, stretch.last, stretch.start, stretch.end, week.zone),
        "first": str(stretch.first),
        "last": str(stretch.last),
        "body": Markup(body(week)),  # noqa: S704  our own report, which escapes what comes from outside
        "by_the_clock": href(stretch.start, stretch.end, week.zone),
    }
    return Page("days.html", data)


def _steps(first: date, last: date, start: int, end: int, zone: tzinfo) -> list[Step]:
    """Earlier, later, closer, wider: links, so that they work without a script and by keyboard."""
    span = (last - first).days + 1
    back, on = timedelta(days=-span), timedelta(days=span)
    found = [
        Step("Earlier", _href(first + back, last + back), "ArrowLeft"),
        Step("Later", _href(first + on, last + on), "ArrowRight"),
    ]
    if span == 1:
        found.append(Step("Closer", href(start + (end - start) // 4, end - (end - start) // 4, zone), "+"))
    else:
        found.append(Step("Closer", _about(first, span, span // 2), "+"))
    if span * 2 < LONGEST:
        found.append(Step("Wider", _about(first, span, span * 2), "-"))
    others = [(name.capitalize(), width) for name, width in WIDTHS if width != span]
    return found + [Step(name, _href(last - timedelta(days=width - 1), last)) for name, width in others]


def _about(first: date, span: int, width: int) -> str:
    """So many days about the middle of these."""
    begin = first + timedelta(days=(span - width) // 2)
    return _href(begin, begin + timedelta(days=width - 1))


def _href(first: date, last: date) -> str:
    return f"/days?from={first}&to={last}"


def _date(ask: Ask, name: str) -> date | None:
    text = ask.query.get(name, "")
    try:
        return parse_date(text) if text else None
    except ValueError as error:
        raise InputError(f"{name}: {error}") from None
