"""pH that rises in the dark to where this pond has never been: water cannot do that by itself.

At night everything in a pond breathes out CO2, and pH falls. Air, a new pump or fresh water can bring it back up, but
only towards the balance with the air, which the pond's bright afternoons have long passed. A probe that climbs by half
a unit in the dark, above every high of the last two weeks, is a reference running dry or a cracked bulb. While it
stands there nothing that falls from that height is a fall of the water. Thresholds: common practice, no source.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import HOUR_MS
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay
from dawnline.state import Stateful

AFTER_SUNSET_MS: Final = 2 * HOUR_MS
RISE: Final = 0.4  # pH, from the lowest of this night
ABOVE_ALL: Final = 0.2  # pH, above the highest day known
OVER: Final = 0.05  # pH above the highest day known: below this it is back where water may be
DAYS_KNOWN: Final = 14
LEAST_DAYS: Final = 3


class NightRise(Stateful):
    """Watches one pH probe for a rise in the dark."""

    KEPT = ("day", "high", "highs", "low", "dark", "size", "since")

    def __init__(self) -> None:
        self.day = -1
        self.high = 0.0  # of the running day
        self.highs: list[float] = []  # of the days before
        self.low = 99.0  # of the running night
        self.dark = False
        self.size = 0.0  # of the rise that stands [pH]
        self.since: int | None = None  # None while no rise stands

    def forget(self) -> None:
        """The probe or the water has been seen to: the night begins anew."""
        self.low, self.since = 99.0, None

    def shift(self, change: float) -> None:
        """The highs remembered count for `change` pH more: the probe was calibrated."""
        self.highs = [high + change for high in self.highs]
        self.high += change

    def push(self, point: Point, day: PondDay) -> bool:
        """Take one smoothed point with the pond day it lies in; whether a rise has just ended."""
        at, value = point.at, point.value
        if day.start != self.day:
            self._turn(day.start)
        self.high = max(self.high, value)
        if not self._in_the_dark(at, day):
            self.low = 99.0
        elif value < self.low:
            self.low = value
        if len(self.highs) < LEAST_DAYS:
            return False
        known = max(self.highs)
        if self.since is None:
            if value - self.low > RISE and value > known + ABOVE_ALL:
                self.since, self.size = at, value - self.low
            return False
        self.size = max(self.size, value - self.low)
        if value > known + OVER:
            return False
        self.since = None
        return True

    @staticmethod
    def _in_the_dark(at: int, day: PondDay) -> bool:
        return at < day.sunrise or at > day.sunset + AFTER_SUNSET_MS

    def _turn(self, start: int) -> None:
        if self.day >= 0 and self.since is None:
            self.highs.append(self.high)
            del self.highs[:-DAYS_KNOWN]
        self.day, self.high = start, 0.0
