"""The pond day: local midnight to midnight, its sunrise and sunset, and the windows of dawn low and dusk high."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone, tzinfo
from typing import Final, TypeAlias

from astral import Observer
from astral.sun import sunrise, sunset

from dawnline.duration import HOUR_MS

STAND_IN_SUNRISE: Final = time(6)  # where the sun does not rise or set
STAND_IN_SUNSET: Final = time(18)

PHASES: Final = 48  # of the solar day
CLEAR_OF_MIDNIGHT: Final = timedelta(hours=3)
ONE_DAY: Final = timedelta(days=1)

_Which: TypeAlias = Callable[..., datetime]


@dataclass(frozen=True, slots=True)
class PondDay:
    """One pond day; all times Unix ms. `dawn` and `dusk` are the windows of the two figures."""

    date: date
    start: int
    end: int
    sunrise: int
    sunset: int
    dawn: tuple[int, int]
    dusk: tuple[int, int]


def solar_phase(at: int, day: PondDay) -> int:
    """0..23 from sunrise to sunset, 24..47 from sunset to the next sunrise (the night taken as symmetric)."""
    light = max(day.sunset - day.sunrise, 1)
    if day.sunrise <= at < day.sunset:
        return min(23, 24 * (at - day.sunrise) // light)
    dark = max(day.end - day.start - light, 1)
    into = at - day.sunset if at >= day.sunset else at - day.sunrise + dark
    return 24 + min(23, max(0, 24 * into // dark))


class Sun:
    """Pond days at one place. `latitude`, `longitude` [degrees north, east]; sea level.

    Sunrise and sunset are those of `astral`, which follows the NOAA solar equations (altitude of the sun's centre
    -0.833 degrees); they agree with a full ephemeris to half a minute, and at 65 degrees north to two minutes. Far
    north in summer a sunset after midnight belongs to the day whose light it ends.
    """

    def __init__(self, latitude: float, longitude: float, zone: tzinfo) -> None:
        self.observer = Observer(latitude, longitude)
        self.zone = zone
        # astral gives one event a date. By these clocks the sun rises early and sets early, so that no event comes near
        # midnight, where far north one date has two sunsets and the next has none.
        solar = timedelta(minutes=round(4 * longitude))
        self.solar = timezone(solar)
        self.morning, self.evening = timezone(solar + CLEAR_OF_MIDNIGHT), timezone(solar - CLEAR_OF_MIDNIGHT)

    def day_at(self, at: int) -> PondDay:
        """The pond day that holds `at` [ms]."""
        return self.day(datetime.fromtimestamp(at / 1000, self.zone).date())

    def day(self, on: date) -> PondDay:
        """The pond day of a local date: 23, 24 or 25 hours long."""
        start, end = self._local(on, time()), self._local(on + ONE_DAY, time())
        noon = self._local(on, time(12))
        light = datetime.fromtimestamp(noon / 1000, self.solar).date()
        rise, fall = self._event(sunrise, light, self.morning), self._event(sunset, light, self.evening)
        if rise is None or fall is None:
            rise, fall = self._local(on, STAND_IN_SUNRISE), self._local(on, STAND_IN_SUNSET)
        return PondDay(on, start, end, rise, fall, (start, rise + 4 * HOUR_MS), (noon, min(fall + 2 * HOUR_MS, end)))

    def _local(self, on: date, at: time) -> int:
        return round(datetime.combine(on, at, self.zone).timestamp() * 1000)

    def _event(self, which: _Which, on: date, clock: timezone) -> int | None:
        """The sunrise or sunset [ms] of a solar date, None where there is none."""
        found = self._ask(which, on, clock)
        if found is not None:
            return found
        # astral also loses an event that falls on midnight UTC: it lies between those of the days before and after.
        around = [self._ask(which, on + step * ONE_DAY, clock) for step in (-1, 1)]
        return None if None in around else sum(filter(None, around)) // 2

    def _ask(self, which: _Which, on: date, clock: timezone) -> int | None:
        try:
            return round(which(self.observer, on, clock).timestamp() * 1000)
        except ValueError:
            return None
