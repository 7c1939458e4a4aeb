"""A slow probe: coated or aged glass answers hours late, and shows the day late and small.

Clouds, rain and wind make a day's swing small too, but they do not bring both its turning points later, day after day.
A first-order lag of T hours delays a daily wave by 24 atan(2 pi T / 24) / (2 pi) hours (2.5 h for T = 3 h, 3.8 h for
6 h) and leaves the cosine of that angle of its swing. Two days in a row on which the high comes later than on any day
known, the low later than usual and the swing is smaller name the probe. Thresholds: set on simulated ponds and on
public records; no source.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import HOUR_MS
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay
from dawnline.state import Stateful

LATER_MS: Final = HOUR_MS  # than the median
SMALLER: Final = 0.9  # of the median swing
LEAST_SWING: Final = 0.08  # with less there are no turning points to speak of
DAYS_KNOWN: Final = 10
LEAST_DAYS: Final = 4
IN_A_ROW: Final = 2


class Slow(Stateful):
    """Follows the turning points of one pH probe, day by day."""

    KEPT = ("day", "low", "low_at", "high", "high_at", "sunrise", "sunset", "usual", "late")

    def __init__(self) -> None:
        self.day = -1
        self.low = self.high = 0.0
        self.low_at = self.high_at = 0
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
        at, value = point.at, point.value
        noon = (day.sunrise + day.sunset) // 2
        if at < noon:
            if value < self.low:
                self.low, self.low_at = value, at
        elif value > self.high:
            self.high, self.high_at = value, at

    @property
    def shown(self) -> bool:
        """Whether the last days came late."""
        return self.late >= IN_A_ROW

    def _close(self) -> None:
        if self.day < 0 or not self.high_at or self.high - self.low < LEAST_SWING:
            return
        day = self.low_at - self.sunrise, self.high_at - self.sunset, self.high - self.low
        if len(self.usual) >= LEAST_DAYS and self._is_late(*day):
            self.late += 1
            return
        self.late = 0
        self.usual.append(day)
        del self.usual[:-DAYS_KNOWN]

    def _is_late(self, low: int, high: int, swing: float) -> bool:
        middle = len(self.usual) // 2
        usual_low, usual_swing = (sorted(day[i] for day in self.usual)[middle] for i in (0, 2))
        highs = sorted(day[1] for day in self.usual)
        return (
            low > usual_low + LATER_MS
            and high > max(highs[-1], highs[middle] + LATER_MS)
            and swing < SMALLER * usual_swing
        )
