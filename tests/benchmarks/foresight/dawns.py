"""Dawn lows by this benchmark's own reckoning, and the simple rules that forecast them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from datetime import date, timedelta
from statistics import fmean, median

from sunlight import Night, local_date, night_before
from world import HOUR_MS, MINUTE_MS, Place

BLOCK_MS = 30 * MINUTE_MS
COVERED = 0.6  # of the blocks of a dawn window, or there is no low
NIGHTS_KNOWN, NIGHTS_USED = 3, 10
LATE_HOURS = (0, 1, 3, 5)  # after sunset
GRACE_MS = 15 * MINUTE_MS  # for all: the watch speaks every ten minutes


class Blocks:
    """A series as medians of half hours; `labelled` are times that somebody marked as faulty."""

    def __init__(self, rows: Sequence[tuple[int, float]], labelled: Sequence[int] = ()) -> None:
        gathered: dict[int, list[float]] = {}
        for at, value in rows:
            if 2.0 < value < 12.0:
                gathered.setdefault(at // BLOCK_MS, []).append(value)
        self.median = {block: median(values) for block, values in gathered.items()}
        self.labelled = sorted(labelled)
        self.first, self.last = (rows[0][0], rows[-1][0]) if rows else (0, 0)

    def at(self, at: int) -> float | None:
        """The pH of the half hour before a time, as far as whole."""
        return self.median.get(at // BLOCK_MS - 1)

    def marked(self, begin: int, end: int) -> bool:
        """Has somebody marked anything from `begin` to `end`?"""
        place = bisect_left(self.labelled, begin)
        return place < len(self.labelled) and self.labelled[place] <= end

    def low(self, night: Night) -> float | None:
        """The dawn low: from midnight to four hours after sunrise; none where it is thin or marked."""
        blocks = range(-(-night.midnight // BLOCK_MS), night.over // BLOCK_MS)
        values = [self.median[block] for block in blocks if block in self.median]
        if len(values) < COVERED * len(blocks) or self.marked(night.sunset, night.over):
            return None
        return min(values)

    def nights(self, place: Place) -> dict[date, tuple[Night, float | None]]:
        """Every whole night of the series."""
        found = {}
        on = local_date(self.first, place) + timedelta(days=1)
        while (night := night_before(on, place)).over <= self.last + BLOCK_MS:
            if night.sunset >= self.first:
                found[on] = night, self.low(night)
            on += timedelta(days=1)
        return found


def rules(blocks: Blocks, place: Place) -> dict[tuple[date, int], tuple[float, dict[str, float]]]:
    """For each night and hour after sunset: the low that came, and what each simple rule said of it.

    "like last night", "now less the median remaining drop of ten nights", and the mean of the two; only with three
    earlier nights known.
    """
    nights = blocks.nights(place)
    out: dict[tuple[date, int], tuple[float, dict[str, float]]] = {}
    for hours in LATE_HOURS:
        drops: list[float] = []
        lows: list[float] = []
        for on, (night, low) in nights.items():
            now = blocks.at(night.sunset + hours * HOUR_MS + GRACE_MS)
            if low is None:
                continue
            if now is not None and len(drops) >= NIGHTS_KNOWN:
                usual = now - median(drops[-NIGHTS_USED:])
                said = {"like last night": lows[-1], "usual drop": usual, "mean of both": fmean((lows[-1], usual))}
                out[on, hours] = low, said
            lows.append(low)
            if now is not None:
                drops.append(now - low)
    return out
