"""Durations and times in words: "10m", "2h", "07:30", ISO 8601 with offset; milliseconds inside; and local days."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator

SECOND_MS = 1_000
MINUTE_MS = 60_000
HOUR_MS = 3_600_000
DAY_MS = 86_400_000
LONGEST_MS = 36_525 * DAY_MS
EVER_MS = 1 << 53  # later than every time that a store can hold

_UNITS = {"ms": 1, "s": SECOND_MS, "m": MINUTE_MS, "h": HOUR_MS, "d": DAY_MS, "w": 7 * DAY_MS}
_PART = re.compile(r"(\d+(?:\.\d+)?)(ms|s|m|h|d|w)")
_WHOLE = re.compile(r"(?:\d+(?:\.\d+)?(?:ms|s|m|h|d|w))+")
_OF_DAY = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])")


def parse_duration(text: object) -> int:
    """Milliseconds of a duration such as "90s", "10m", "1h30m" or "2d".

    Raises ValueError, with the remedy, for anything else: a bare number has no unit.

    >>> parse_duration("1h30m")
    5400000
    """
    if not isinstance(text, str) or not _WHOLE.fullmatch(text.replace(" ", "")):
        raise ValueError('expected a duration with its unit, such as "30s", "10m", "2h" or "1d"')
    total = sum(float(n) * _UNITS[u] for n, u in _PART.findall(text.replace(" ", "")))
    if total > LONGEST_MS:
        raise ValueError("expected a duration of 100 years at most")
    return round(total)


def beyond_bound(kind: str, context: Mapping[str, Any], found: object) -> str | None:
    """What a validator's complaint (its type, its context) expects of a duration as typed; None for any other.

    >>> beyond_bound("less_than_equal", {"le": 604_800_000}, "8d")
    'at most 7 d'
    """
    words = {"less_than_equal": "at most", "greater_than_equal": "at least", "greater_than": "more than"}.get(kind)
    if words is None or not isinstance(found, str) or not _WHOLE.fullmatch(found.replace(" ", "")):
        return None
    (bound,) = context.values()
    return f"{words} {show_duration(bound)}"


def show_duration(ms: float) -> str:
    """A duration for people, to two parts.

    >>> show_duration(5_400_000), show_duration(45_000), show_duration(200_000_000)
    ('1 h 30 min', '45 s', '2 d 7 h')
    """
    seconds = round(abs(ms) / SECOND_MS)
    for size, unit, below, small in ((86_400, "d", 3_600, "h"), (3_600, "h", 60, "min"), (60, "min", 1, "s")):
        if seconds >= size:
            rest = (seconds % size) // below
            return f"{seconds // size} {unit}" + (f" {rest} {small}" if rest else "")
    return f"{seconds} s"


def minute_of_day(text: str) -> int:
    """Minutes after midnight of a time of day. Raises ValueError, with the remedy, for anything else.

    >>> minute_of_day("07:30")
    450
    """
    found = _OF_DAY.fullmatch(text)
    if found is None:
        raise ValueError('expected a time of day such as "07:30"')
    return int(found[1]) * 60 + int(found[2])


def _time_of_day(text: str) -> str:
    minute_of_day(text)
    return text


def iso(at: int, zone: tzinfo = UTC) -> str:
    """A time in ISO 8601 with its offset, in `zone`, to the second or, where there are some, milliseconds.

    >>> iso(0)
    '1970-01-01T00:00:00+00:00'
    """
    moment = datetime.fromtimestamp(at / SECOND_MS, zone)
    return moment.isoformat(timespec="seconds" if at % SECOND_MS == 0 else "milliseconds")


def day_and_time(at: int, zone: tzinfo) -> str:
    """A time [Unix ms] for people.

    >>> day_and_time(1_780_000_000_000, UTC)
    'Thu 2026-05-28 20:26'
    """
    return f"{datetime.fromtimestamp(at / 1000, zone):%a %Y-%m-%d %H:%M}"


def local_date(at: int, zone: tzinfo) -> date:
    """The date of a time [ms] in `zone`."""
    return datetime.fromtimestamp(at / SECOND_MS, zone).date()


def local_ms(on: date, zone: tzinfo, minute: int = 0) -> int:
    """Milliseconds of a time of day in `zone`, given in minutes after midnight.

    One that the change of the clock leaves out is as long after midnight as if it were there.
    """
    return round(datetime.combine(on, time(*divmod(minute, 60)), zone).timestamp() * SECOND_MS)


def next_local_ms(minute: int, at: int, zone: tzinfo) -> int:
    """When it is `minute` minutes after midnight for the next time after `at` [ms]."""
    today = local_date(at, zone)
    days = (today + timedelta(days=days) for days in (0, 1, 2))
    return next(moment for day in days if (moment := local_ms(day, zone, minute)) > at)


def parse_time(text: str, zone: tzinfo) -> int:
    """Milliseconds of an ISO 8601 time; one without an offset is local time in `zone`.

    Raises ValueError for anything else, and for a local time that the change of the clock skips or doubles.
    """
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"expected an ISO 8601 time such as 2026-06-03T04:30:00+02:00, found {text!r}") from None
    if moment.tzinfo is None:
        early, late = moment.replace(tzinfo=zone, fold=0), moment.replace(tzinfo=zone, fold=1)
        if early.utcoffset() != late.utcoffset():
            raise ValueError(f"{text!r} is ambiguous or skipped by the change of the clock: give it with its offset")
        moment = early
    return round(moment.timestamp() * SECOND_MS)


END_MS = 4_102_444_800_000  # 2100-01-01


def parse_date(text: str) -> date:
    """A date such as 2026-06-14, within the years that a store can hold. Raises ValueError for anything else."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        found = date.min
    if not 1970 <= found.year < 2100:
        raise ValueError(f"found {text[:20]!r}, expected a date from 1970 to 2100, such as 2026-06-14")
    return found


def parse_instant(found: object) -> int:
    """Milliseconds of an ISO 8601 time with its offset; milliseconds stay. Raises ValueError for anything else, and for
    a time that is not within the years that a store can hold (`parse_date`).

    >>> parse_instant("1970-01-01T01:00:01+01:00")
    1000
    """
    if isinstance(found, int) and not isinstance(found, bool):
        return _within(found)
    try:
        moment = datetime.fromisoformat(found.strip()) if isinstance(found, str) else None
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise ValueError("expected a time with its offset, such as 2026-06-03T04:30:00+02:00")
    return _within(round(moment.timestamp() * SECOND_MS))


def _within(at: int) -> int:
    if not 0 <= at < END_MS:
        raise ValueError("expected a time from 1970 to 2100")
    return at


Duration = Annotated[int, BeforeValidator(parse_duration)]
"""A settings field written as a duration string, milliseconds once read."""

TimeOfDay = Annotated[str, AfterValidator(_time_of_day)]
"""A settings field written as a time of day, which `minute_of_day` reads."""
