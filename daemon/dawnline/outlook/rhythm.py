"""The rhythm of one pH probe: the figures of its pond day.

Every good reading is held until the next one, for three intervals at most; means, minutes and coverage are counted
over the time so held. Dawn low and dusk high come from the smoothed series and stand only where at least 60 % of
their window is covered: no figure is better than a wrong one.
"""

from __future__ import annotations

from copy import copy
from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.event import Day
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay, Sun
from dawnline.state import Stateful

LEAST_COVERAGE: Final = 0.6
REMEMBERED_LOWS: Final = 14


class Rhythm(Stateful):
    """Accumulates the running pond day of one probe and closes it."""

    KEPT = (
        "day_start", "held", "weighted", "below", "above", "dawn_held", "dusk_held",
        "low", "low_at", "high", "high_at", "last_at", "last_value", "counted_to", "lows",
    )  # fmt: skip

    def __init__(self, probe: str, sun: Sun, limits: LimitSettings) -> None:
        self.probe = probe
        self.sun = sun
        self.limits = limits
        self.day: PondDay | None = None
        self.day_start = -1
        self.last_at: int | None = None  # the reading being held
        self.last_value = 0.0
        self.counted_to = 0  # held time is counted up to here
        self.lows: list[float] = []  # dawn lows of earlier days
        self.learning = True  # false while time is provisional: a dawn at the wrong hour teaches nothing
        self.low: float | None = None
        self.low_at: int | None = None
        self.high: float | None = None
        self.high_at: int | None = None
        self._clear()

    def restore(self, saved: dict[str, object]) -> None:
        """As `Stateful.restore`; the day itself follows from its start."""
        super().restore(saved)
        self.day = self.sun.day_at(self.day_start) if self.day_start >= 0 else None

    def push(self, at: int, value: float, interval: int) -> None:
        """Take one good reading; the caller has closed every day that ended before it."""
        if self.day is None:
            self._open(self.sun.day_at(at))
            self.counted_to = at
        self._hold_to(at, interval)
        self.counted_to = max(at, self.counted_to)
        self.last_at, self.last_value = at, value

    def smoothed(self, point: Point) -> None:
        """Take one point of the smoothed series."""
        day = self.day
        if day is None:
            return
        at, value = point.at, point.value
        if day.dawn[0] <= at < day.dawn[1] and (self.low is None or value < self.low):
            self.low, self.low_at = value, at
        if day.dusk[0] <= at < day.dusk[1] and (self.high is None or value > self.high):
            self.high, self.high_at = value, at

    def close(self, at: int, interval: int) -> Day | None:
        """The day that has ended by `at`, or None while it goes on. Call again: several may have ended."""
        day = self.day
        if day is None or at < day.end:
            return None
        figures = self._figures(day, interval, partial=False)
        if figures.dawn_low is not None and self.learning:
            self.lows = [*self.lows[-(REMEMBERED_LOWS - 1) :], figures.dawn_low]
        self._open(self.sun.day_at(day.end))
        return figures

    def so_far(self, at: int, interval: int) -> Day | None:
        """The running day as it stands at `at`, marked partial. Asking changes nothing, not even a rounding."""
        return None if self.day is None else copy(self)._figures(self.day, interval, partial=True, until=at)

    def shift(self, change: float) -> None:
        """The lows of earlier days count for `change` pH more: the probe was calibrated. The running day goes on."""
        self.lows = [low + change for low in self.lows]

    @property
    def ordinary_low(self) -> float | None:
        """The median of this pond's dawn lows, once five are known."""
        return sorted(self.lows)[len(self.lows) // 2] if len(self.lows) >= 5 else None

    @property
    def dawn_low(self) -> tuple[int, float] | None:
        """The running day's dawn low so far, its time [ms] and pH, once enough of its window is covered."""
        day = self.day
        if day is None or self.low is None or self.low_at is None:
            return None
        covered = self.dawn_held >= LEAST_COVERAGE * (day.dawn[1] - day.dawn[0])
        return (self.low_at, self.low) if covered else None

    def _open(self, day: PondDay) -> None:
        self.day, self.day_start = day, day.start
        self.counted_to = max(self.counted_to, day.start)
        self._clear()

    def _clear(self) -> None:
        self.held = self.weighted = self.below = self.above = self.dawn_held = self.dusk_held = 0.0
        self.low = self.low_at = self.high = self.high_at = None

    def _hold_to(self, at: int, interval: int) -> None:
        """Count the held reading up to `at`, for three intervals at most."""
        if self.last_at is None or self.day is None:
            return
        until = min(at, self.last_at + 3 * interval, self.day.end)
        start = self.counted_to
        if until <= start:
            return
        span, value, day = until - start, self.last_value, self.day
        self.held += span
        self.weighted += span * value
        if value < self.limits.ph_low:
            self.below += span
        elif value > self.limits.ph_high:
            self.above += span
        if start < day.dawn[1]:
            self.dawn_held += min(until, day.dawn[1]) - start
        if until > day.dusk[0]:
            self.dusk_held += max(0, min(until, day.dusk[1]) - max(start, day.dusk[0]))
        self.counted_to = until

    def _figures(self, day: PondDay, interval: int, *, partial: bool, until: int | None = None) -> Day:
        self._hold_to(day.end if until is None else min(day.end, until), interval)
        dawn = self.dawn_held >= LEAST_COVERAGE * (day.dawn[1] - day.dawn[0]) and self.low is not None
        dusk = self.dusk_held >= LEAST_COVERAGE * (day.dusk[1] - day.dusk[0]) and self.high is not None
        low, high = (self.low if dawn else None), (self.high if dusk else None)
        return Day(
            date=day.date.isoformat(),
            probe=self.probe,
            dawn_low=low,
            dawn_low_at=self.low_at if dawn else None,
            dusk_high=high,
            dusk_high_at=self.high_at if dusk else None,
            swing=high - low if low is not None and high is not None else None,
            mean=self.weighted / self.held if self.held else None,
            minutes_below=self.below / MINUTE_MS,
            minutes_above=self.above / MINUTE_MS,
            coverage=self.held / (day.end - day.start),
            partial=partial,
        )
