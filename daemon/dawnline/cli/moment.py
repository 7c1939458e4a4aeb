"""`--at`, `--from` and `--to`: a time, or a date of the pond."""

from __future__ import annotations

from datetime import date, timedelta, tzinfo

from dawnline.duration import EVER_MS, local_ms, parse_time
from dawnline.errors import SettingsError


def moment(text: str, zone: tzinfo, *, late: bool) -> int:
    """Unix ms of a time or of a date: its local midnight or, where `late`, the midnight that ends it.

    Raises SettingsError for anything else.
    """
    try:
        if len(text) > len("2026-06-03"):
            return parse_time(text, zone)
        day = date.fromisoformat(text)
        return local_ms(day + timedelta(days=1) if late else day, zone)
    except (ValueError, OverflowError) as error:
        # What `parse_time` says of a change of the clock names its own remedy.
        expected = "expected a date such as 2026-06-03 or a time such as 2026-06-03T04:30:00+02:00"
        raise SettingsError(str(error) if "clock" in str(error) else f"found {text!r}, {expected}") from None


def as_of(text: str | None, zone: tzinfo) -> int:
    """The moment that `--at` names, by default now, Unix ms. Raises SettingsError for what is no time."""
    if text is not None:
        return moment(text, zone, late=False)
    from dawnline.service.clock import from_environment

    return from_environment().now()


def span(first: str | None, last: str | None, zone: tzinfo) -> tuple[int, int]:
    """The times from `first` up to `last`, Unix ms, start included, end not; None is no bound.

    Raises SettingsError for what is no time, and where nothing lies between.
    """
    start = 0 if first is None else moment(first, zone, late=False)
    end = EVER_MS if last is None else moment(last, zone, late=True)
    if start >= end:
        raise SettingsError(f"--from {first} does not lie before --to {last}: expected the earlier one first")
    return start, end
