"""The sender's own time: ISO 8601 with its offset, or Unix seconds or milliseconds."""

from __future__ import annotations

from datetime import datetime

from dawnline.duration import SECOND_MS
from dawnline.probes.dialects.number import number
from dawnline.probes.dialects.value import Refusal

# 2000-01-01 and 2100-01-01, UTC, in seconds: a sender whose clock was never set says 1970. Between them,
# seconds (under 5e9) and milliseconds (over 9e11) cannot be mistaken for each other.
EARLIEST_S, LATEST_S = 946_684_800, 4_102_444_800


def moment(raw: object) -> int | Refusal:
    """Unix milliseconds, UTC, of a time that a sender gave.

    A time without an offset is refused: whose local time it is, nobody says.

    >>> moment("2026-06-03T04:30:00Z"), moment("2026-06-03T06:30:00+02:00"), moment(1780461000.0)
    (1780461000000, 1780461000000, 1780461000000)
    """
    found = number(raw)
    if isinstance(found, float):
        ms = found if found >= EARLIEST_S * SECOND_MS else found * SECOND_MS
    elif isinstance(raw, str) and len(raw) <= 64:
        try:
            parsed = datetime.fromisoformat(raw.strip(" \t"))
            if parsed.tzinfo is None:
                return Refusal.BAD_TIME
            ms = parsed.timestamp() * SECOND_MS
        except (ValueError, OverflowError):
            return Refusal.BAD_TIME
    else:
        return Refusal.BAD_TIME
    return round(ms) if EARLIEST_S * SECOND_MS <= ms < LATEST_S * SECOND_MS else Refusal.BAD_TIME
