"""Last night in one line, for those who want a word every morning: its absence is a sign as well."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo
from statistics import median

from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.watch import Watch


def last_night(watches: Iterable[Watch], at: int, zone: tzinfo) -> str:
    """What the pH probes saw since midnight; `at` [ms] is now. One line a pH probe, one in all where there is one."""
    rows = [_of(watch, at, zone) for watch in watches if isinstance(watch, PhWatch)]
    return "\n".join(rows) or "Last night: no pH probe is configured."


def _of(watch: PhWatch, at: int, zone: tzinfo) -> str:
    low, low_at, lows = watch.rhythm.low, watch.rhythm.low_at, watch.rhythm.lows
    if low is None or low_at is None or low_at > at:
        return f"Last night, {watch.probe}: nothing was measured that could be believed."
    usual = _usual(lows)
    return (
        f"Last night, {watch.probe}: lowest pH {low:.2f} at {datetime.fromtimestamp(low_at / 1000, zone):%H:%M}{usual}."
    )


def _usual(lows: Sequence[float]) -> str:
    return f"; of late {median(lows[-5:]):.2f} was usual" if len(lows) >= 3 else ""
