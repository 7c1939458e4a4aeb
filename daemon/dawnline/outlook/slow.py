"""A slow probe: coated or aged glass answers hours late, and shows the day late and small.

Clouds, rain and wind make a day's swing small too, but they do not bring both its turning points later, day after day.
A first-order lag of T hours delays a daily wave by 24 atan(2 pi T / 24) / (2 pi) hours (2.5 h for T = 3 h, 3.8 h for
6 h) and leaves the cosine of that angle of its swing. Two days in a row name the probe if both turning points
come later than usual, the high later than ever and the swing is smaller; or both together by three hours, with a swing
smaller than on all days known but one. A turning point that rests on one count for hours lies in their middle.
Thresholds: set on simulated ponds and on public records; no source.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import HOUR_MS
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay
from dawnline.state import Stateful

LATER_MS: Final = HOUR_MS  # than the median, and the high later than all
SMALLER: Final = 0.9  # of the median swing; or, with a swing much smaller,
BOTH_LATER_MS: Final = 3 * HOUR_MS  # low and high together, than their medians
EACH_LATER_MS: Final = HOUR_MS // 3
OF_LATEST: Final = 0.8  # of the way from the median high to the latest one known
MUCH_SMALLER: Final = 0.65  # of the median swing
THAN_ALL: Final = 0.9  # of the smallest swing known but one
USUAL_SWING: Final = 0.12  # a pond that moves less shows no turning points to speak of
LEAST_SWING: Final = 0.05  # a day with less teaches nothing
DAYS_KNOWN: Final = 10
LEAST_DAYS: Final = 4
IN_A_ROW: Final = 2


class Slow(Stateful):
    """Follows the turning points of one pH probe, day by day."""

    KEPT = ("day", "low", "low_at", "low_to", "high", "high_at", "high_to", "sunrise", "sunset", "usual", "late")

    def __init__(self) -> None:
        self.day = -1
        self.low = self.high = 0.0
        self.low_at = self.high_at = 0  # first time ...
        self.low_to = self.high_to = 0  # ... and last [ms]
        self.sunrise = self.sunset = 0
        self.usual: list[tuple[int, int, float]] = []  # a day each: low after sunrise, high after sunset [ms], swing
        self.late = 0  # days in a row

    def forget(self) -> None:
        """The probe has been seen to: it is quick until shown slow."""
        self.day, self.late = -1, 0

    def push(self, point: Point, day: PondDay) -> None:
        """Take one smoothed point with the pond day it lies in."""
        if day.start != self.day:
            self._close()
            self.day, self.sunrise, self.sunset = day.start, day.sunrise, day.sunset
            self.low, self.high, self.low_at, self.high_at = point.value, 0.0, point.at, 0
            self.low_to = point.at
        at, value = point.at, point.value
        noon = (day.sunrise + day.sunset) // 2
        if at < noon:
            if value < self.low:
                self.low, self.low_at = value, at
            if value == self.low:
                self.low_to = at
        else:
            if value > self.high:
                self.high, self.high_at = value, at
            if value == self.high:
                self.high_to = at

    @property
    def shown(self) -> bool:
        """Whether the last days came late."""
        return self.late >= IN_A_ROW

    def _close(self) -> None:
        if self.day < 0 or not self.high_at:
            return
        low_at, high_at = (self.low_at + self.low_to) // 2, (self.high_at + self.high_to) // 2
        day = low_at - self.sunrise, high_at - self.sunset, self.high - self.low
        if len(self.usual) >= LEAST_DAYS and self._is_late(*day):
            self.late += 1
            return
        self.late = 0
        if day[2] >= LEAST_SWING:
            self.usual.append(day)
            del self.usual[:-DAYS_KNOWN]

    def _is_late(self, low: int, high: int, swing: float) -> bool:
        middle = len(self.usual) // 2
        lows, highs, swings = (sorted(day[i] for day in self.usual) for i in range(3))
        later_low, later_high = low - lows[middle], high - highs[middle]
        latest, usual = highs[-1] - highs[middle], swings[middle]
        if later_low > LATER_MS and later_high > max(latest, LATER_MS) and swing < SMALLER * usual:
            return True
        return (
            usual >= USUAL_SWING
            and swing < min(MUCH_SMALLER * usual, THAN_ALL * swings[1])
            and later_low + later_high >= BOTH_LATER_MS
            and min(later_low, later_high) >= EACH_LATER_MS
            and later_high > OF_LATEST * latest
        )
