"""Last night in one line, for those who want a word every morning: its absence is a sign as well."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, tzinfo
from statistics import median

from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.watch import Watch


def last_night(
    words: Mapping[str, str],
    watches: Iterable[Watch],
    at: int,
    zone: tzinfo,
    doubt: Callable[[str], str | None] = lambda _probe: None,
) -> str:
    """What the pH probes saw since midnight; `at` [ms] is now, `doubt` says why a probe is doubted, if it is.

    One line a pH probe, one in all where there is one.
    """
    rows = []
    for watch in watches:
        if isinstance(watch, PhWatch):
            row, why = _of(words, watch, at, zone), doubt(watch.probe)
            rows.append(row if why is None else words["night_doubted"].format(night=row, why=why))
    return "\n".join(rows) or words["night_without"]


def _of(words: Mapping[str, str], watch: PhWatch, at: int, zone: tzinfo) -> str:
    low, low_at, lows = watch.rhythm.low, watch.rhythm.low_at, watch.rhythm.lows
    if low is None or low_at is None or low_at > at:
        return words["night_unknown"].format(probe=watch.probe)
    hour = f"{datetime.fromtimestamp(low_at / 1000, zone):%H:%M}"
    if len(lows) < 3:
        return words["night"].format(probe=watch.probe, low=f"{low:.2f}", time=hour)
    return words["night_usual"].format(probe=watch.probe, low=f"{low:.2f}", time=hour, usual=f"{median(lows[-5:]):.2f}")
