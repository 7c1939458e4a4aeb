"""Days: any stretch of them, with its figures, as in the report."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from markupsafe import Markup

from dawnline.duration import parse_date
from dawnline.errors import InputError
from dawnline.page.ask import Ask, Page
from dawnline.review.report import body, dates

WIDTHS: Final = (("a day", 1), ("a week", 7), ("a month", 31), ("a year", 366))
LONGEST: Final = 3660


def days(ask: Ask) -> Page:
    """The days asked for, or the last seven."""
    first, last = _date(ask, "from"), _date(ask, "to")
    if first and last and not 0 <= (last - first).days < LONGEST:
        raise InputError(f"from {first} to {last}: expected the earlier day first, and at most ten years")
    week = ask.doors.week(first, last)
    if week is None:
        data = {"dates": "Days", "steps": [], "first": "", "last": "", "body": "", "start": 0, "end": 0, "zone": ""}
        return Page("days.html", data)
    data = {
        "dates": dates(week),
        "steps": _steps(week.stretch.first, week.stretch.last),
        "first": str(week.stretch.first),
        "last": str(week.stretch.last),
        "body": Markup(body(week)),  # noqa: S704  our own report, which escapes what comes from outside
        "start": week.stretch.start,
        "end": week.stretch.end,
        "zone": str(ask.doors.settings.pond.timezone),
    }
    return Page("days.html", data)


def _steps(first: date, last: date) -> list[tuple[str, str]]:
    """Earlier, later, closer, wider: links, so that they work without a script and by keyboard."""
    span = (last - first).days + 1
    back, on = timedelta(days=-span), timedelta(days=span)
    steps = [("Earlier", _href(first + back, last + back)), ("Later", _href(first + on, last + on))]
    others = [(name.capitalize(), width) for name, width in WIDTHS if width != span]
    return steps + [(name, _href(last - timedelta(days=width - 1), last)) for name, width in others]


def _href(first: date, last: date) -> str:
    return f"/days?from={first}&to={last}"


def _date(ask: Ask, name: str) -> date | None:
    text = ask.query.get(name, "")
    try:
        return parse_date(text) if text else None
    except ValueError as error:
        raise InputError(f"{name}: {error}") from None
