"""pH that rises to where this pond has never been, in the dark or far quicker than it ever has: water does not.

At night everything in a pond breathes out CO2, and pH falls. Air, a new pump or fresh water can bring it back up, but
only towards the balance with the air, which the pond's bright afternoons have long passed. A probe that climbs by half
a unit in the dark, above every high of the last two weeks, is a reference running dry or a cracked bulb. By day light
lifts pH, at a pace that the brightest of these weeks has shown; what leaps up at three times that pace, above every
high of theirs, is a dry bulb, a loose plug or the hum of the mains, if it is no dose that nobody logged. What falls
from that height is no fall of the water; so it is until the probe has for an hour (a slow one for twelve readings)
shown again what is usual at this hour, or a day has passed; up to a week where it stands above what is usual by the
leap still: what lime or lye raised comes down again, as it takes up carbon dioxide. After a climb in the dark, for
which the limits wait, less than what is usual will do as well: it may be acid. Thresholds: common practice, no source;
leaps set on simulated faults and on public records.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, show_duration
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay
from dawnline.state import Stateful

AFTER_SUNSET_MS: Final = 2 * HOUR_MS
RISE: Final = 0.4  # pH, from the lowest of this night
ABOVE_ALL: Final = 0.2  # pH, above the highest day known
OVER: Final = 0.05  # pH above the highest day known: below this it is back where water may be
NEAR: Final = 0.15  # pH from what is usual at this hour
NOT_ABOVE: Final = 0.3  # pH above that, after a climb in the dark
BACK_MS: Final = HOUR_MS
BACK_READINGS: Final = 12  # of a slow probe
LONGEST_MS: Final = DAY_MS
LONGEST_LEAP_MS: Final = 7 * DAY_MS  # where it stands above what is usual by the leap,
SAME_SHARE: Final = 0.3  # give or take this share of it
DAYS_KNOWN: Final = 14
LEAST_DAYS: Final = 3


class Rise(Stateful):
    """Watches one pH probe for a rise that is not the water's."""

    KEPT = ("day", "high", "highs", "low", "size", "window", "since", "back_at")

    def __init__(self) -> None:
        self.day = -1
        self.high = 0.0  # of the running day
        self.highs: list[float] = []  # of the days before
        self.low = 99.0  # of the running night
        self.size = 0.0  # of the rise that stands [pH]
        self.window = 0  # within this time [ms]; 0 for a climb in the dark
        self.since: int | None = None  # None while no rise stands
        self.back_at: int | None = None  # since when it is back where it usually is at this hour

    def forget(self) -> None:
        """The probe or the water has been seen to: the night begins anew."""
        self.low, self.since = 99.0, None

    def shift(self, change: float) -> None:
        """The highs remembered count for `change` pH more: the probe was calibrated."""
        self.highs = [high + change for high in self.highs]
        self.high += change

    def push(self, point: Point, day: PondDay, usual: float | None, interval: int) -> bool:
        """Take one smoothed point with the pond day it lies in; whether a rise has just ended.

        `usual` is the level [pH] of earlier days at this hour, `interval` [ms] how often the probe speaks.
        """
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
        if value - self.low > RISE and value > known + ABOVE_ALL and not self.climbed:
            self._begin(at, value - self.low, 0)
        if self.since is None:
            return False
        if self.climbed:
            self.size = max(self.size, value - self.low)
        near = usual is None or (value <= usual + NOT_ABOVE if self.climbed else abs(value - usual) <= NEAR)
        near = near and value <= known + OVER
        stays = self.window > 0 and usual is not None and abs(value - usual - self.size) <= SAME_SHARE * self.size
        return self._is_over(at, LONGEST_LEAP_MS if stays else LONGEST_MS, near=near, interval=interval)

    def leap(self, at: int, value: float, leap: tuple[float, int] | None) -> None:
        """To which value, by how much [pH] and within what [ms] (`Drop.leap`) it has leapt up; None for no leap."""
        known = len(self.highs) >= LEAST_DAYS and value > max(self.highs) + ABOVE_ALL
        if leap is not None and known and self.since is None:
            self._begin(at, *leap)

    @property
    def climbed(self) -> bool:
        """Whether what stands is a climb in the dark: a leap might be a dose, so that a high pH is told of."""
        return self.since is not None and not self.window

    def evidence(self) -> str:
        """The rise that stands, in words."""
        if self.window:
            return f"it rose by {self.size:.2f} in {show_duration(self.window)}, far quicker than ever in these weeks"
        return f"it rose by {self.size:.2f} in the dark, above every high of these weeks"

    def _begin(self, at: int, size: float, window: int) -> None:
        self.since, self.size, self.window, self.back_at = at, size, window, None

    def _is_over(self, at: int, longest: int, *, near: bool, interval: int) -> bool:
        """Whether the rise is over: back where this water may be for long enough, or older than `longest` [ms]."""
        assert self.since is not None
        if not near:
            self.back_at = None
        elif self.back_at is None:
            self.back_at = at
        back = self.back_at is not None and at - self.back_at >= max(BACK_MS, BACK_READINGS * interval)
        if back or at - self.since > longest:
            self.since = None
        return self.since is None

    @staticmethod
    def _in_the_dark(at: int, day: PondDay) -> bool:
        return at < day.sunrise or at > day.sunset + AFTER_SUNSET_MS

    def _turn(self, start: int) -> None:
        if self.day >= 0 and self.since is None:
            self.highs.append(self.high)
            del self.highs[:-DAYS_KNOWN]
        self.day, self.high = start, 0.0
