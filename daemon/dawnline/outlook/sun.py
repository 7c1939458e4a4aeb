"""The pond day: local midnight to midnight, its sunrise and sunset, and the windows of dawn low and dusk high."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final

from astral import Observer
from astral.sun import sunrise, sunset

from dawnline.duration import HOUR_MS

STAND_IN_SUNRISE: Final = time(6)  # where the sun does not rise or set
STAND_IN_SUNSET: Final = time(18)


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


class Sun:
    """Pond days at one place. `latitude`, `longitude` [degrees north, east]; sea level.

    Sunrise and sunset are those of `astral`, which follows the NOAA solar equations (altitude of the sun's centre
    -0.833 degrees); they agree with a full ephemeris to half a minute.
    """

    def __init__(self, latitude: float, longitude: float, zone: tzinfo) -> None:
        self.observer = Observer(latitude, longitude)
        self.zone = zone

    def day_at(self, at: int) -> PondDay:
        """The pond day that holds `at` [ms]."""
        return self.day(datetime.fromtimestamp(at / 1000, self.zone).date())

    def day(self, on: date) -> PondDay:
        """The pond day of a local date: 23, 24 or 25 hours long."""
        start, end = self._local(on, time()), self._local(on + timedelta(days=1), time())
        rise = self._event(sunrise, on, STAND_IN_SUNRISE)
        fall = self._event(sunset, on, STAND_IN_SUNSET)
        if fall < rise:  # far north in summer the sun sets after midnight: this one belongs to yesterday evening
            fall = self._event(sunset, on + timedelta(days=1), STAND_IN_SUNSET)
        noon = self._local(on, time(12))
        return PondDay(on, start, end, rise, fall, (start, rise + 4 * HOUR_MS), (noon, min(fall + 2 * HOUR_MS, end)))

    def _local(self, on: date, at: time) -> int:
        return round(datetime.combine(on, at, self.zone).timestamp() * 1000)

    def _event(self, which: Callable[..., datetime], on: date, stand_in: time) -> int:
        try:
            return round(which(self.observer, on, self.zone).timestamp() * 1000)
        except ValueError:
            return self._local(on, stand_in)
