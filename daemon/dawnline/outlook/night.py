"""One night of a pond: from sunset to the end of the dawn window, and the phase by which nights are compared.

The phase counts the three hours before sunset by the hour, sunset to sunrise in sixteen equal parts, and the four
hours after sunrise in six: nights of June and of December lie on one scale, and a pond is kept by one value a phase.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from dawnline.duration import HOUR_MS
from dawnline.outlook.sun import PondDay, Sun

EVENING: Final = 3  # phases before sunset, an hour each
DARK: Final = 16  # phases from sunset to sunrise
MORNING: Final = 6  # phases of the four hours after sunrise
PHASES: Final = EVENING + DARK + MORNING
MORNING_MS: Final = 4 * HOUR_MS


class Night(NamedTuple):
    """One night [ms]: the low is sought from `midnight` to `end`; `date` is the local date of its sunrise."""

    sunset: int
    midnight: int
    sunrise: int
    end: int
    date: str

    def phase(self, at: int) -> float:
        """Where `at` lies: below 0 before the evening, 3 at sunset, 19 at sunrise, 25 at the end.

        >>> night = Night(0, 3 * HOUR_MS, 8 * HOUR_MS, 12 * HOUR_MS, "2026-06-08")
        >>> night.phase(-HOUR_MS), night.phase(4 * HOUR_MS), night.phase(10 * HOUR_MS)
        (2.0, 11.0, 22.0)
        """
        if at < self.sunset:
            return EVENING + (at - self.sunset) / HOUR_MS
        if at < self.sunrise:
            return EVENING + DARK * (at - self.sunset) / (self.sunrise - self.sunset)
        return EVENING + DARK + MORNING * (at - self.sunrise) / MORNING_MS

    def time_of(self, phase: float) -> int:
        """The time [ms] of a phase: the inverse of `phase`.

        >>> night = Night(0, 3 * HOUR_MS, 8 * HOUR_MS, 12 * HOUR_MS, "2026-06-08")
        >>> night.time_of(11.0) == 4 * HOUR_MS, night.time_of(22.0) == 10 * HOUR_MS
        (True, True)
        """
        if phase < EVENING:
            return round(self.sunset + (phase - EVENING) * HOUR_MS)
        if phase < EVENING + DARK:
            return round(self.sunset + (phase - EVENING) / DARK * (self.sunrise - self.sunset))
        return round(self.sunrise + (phase - EVENING - DARK) / MORNING * MORNING_MS)


def night_of(sun: Sun, day: PondDay, at: int) -> Night:
    """The night that `at`, a time on `day`, belongs to: the one under way, else the coming one."""
    if at < day.dawn[1] and at < day.sunset - EVENING * HOUR_MS:
        return _between(sun.day_at(day.start - 1), day)
    return _between(day, sun.day_at(day.end))


def _between(evening: PondDay, morning: PondDay) -> Night:
    """Far north in winter the evening may begin before the dawn window of the morning has ended: it is cut there."""
    end = min(morning.dawn[1], morning.sunset - EVENING * HOUR_MS)
    sunrise = max(morning.sunrise, evening.sunset + HOUR_MS)  # a midsummer night far north lasts no time at all
    return Night(evening.sunset, morning.start, sunrise, max(end, sunrise), str(morning.date))


def value_at(profile: Sequence[float | None], phase: float) -> float | None:
    """A night's value at a phase, straight between its values at the whole ones; None where it was not seen.

    >>> value_at((7.5, 7.4, None), 0.5), value_at((7.5, 7.4, None), 1.5)
    (7.45, None)
    """
    index = int(phase)
    if not 0 <= index < len(profile):
        return None
    here, there = profile[index], profile[min(index + 1, len(profile) - 1)]
    if here is None or there is None:
        return None
    return here + (phase - index) * (there - here)
