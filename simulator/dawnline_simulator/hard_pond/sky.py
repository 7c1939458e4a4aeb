"""Weather in spells: cloud that comes for days, fronts, wind, season and latitude. Seeded; hour by hour."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi
from typing import NamedTuple

from dawnline_simulator.dice import Dice
from dawnline_simulator.sun import irradiance_w_m2, sine_of_elevation

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
YEAR_DAYS = 365.25


@dataclass(frozen=True, slots=True)
class HardClimate:
    """How the weather behaves; invented, common sense. Spells in hours, depths in mm."""

    clear_hours: float = 70.0  # mean length of a bright spell
    dull_hours: float = 40.0
    front_c: float = 2.0  # scatter of the air's anomaly
    swing_c: float = 6.0  # half the clear day's range
    wind_m_s: float = 2.5
    wet_share: float = 0.08  # of dull hours with rain
    wet_mm_h: float = 0.8


class Sky(NamedTuple):
    """What the world does to the pond just now."""

    light_w_m2: float
    cloud: float
    air_c: float
    wind_m_s: float
    rain_mm_h: float


class Hour(NamedTuple):
    """One hour of weather."""

    cloud: float
    air_c: float
    wind_m_s: float
    rain_mm_h: float


def season_c(at: int, latitude: float) -> float:
    """Mean air temperature of the date: warmer south, wider north, warmest in late July. Invented.

    >>> round(season_c(round(200 * DAY_MS), 48.0), 1)
    19.0
    """
    days = at / DAY_MS % YEAR_DAYS
    return 31.0 - 0.45 * abs(latitude) + 0.2 * abs(latitude) * cos(2.0 * pi * (days - 200.0) / YEAR_DAYS)


class Spells:
    """Weather from `begin` (Unix ms) for `days`; the last hour stays. The same dice give the same beginning."""

    def __init__(self, climate: HardClimate, dice: Dice, begin: int, days: int, *, latitude: float, longitude: float):
        self._begin, self._latitude, self._longitude = begin, latitude, longitude
        self._hours: list[Hour] = []
        dull = dice.random() < climate.dull_hours / (climate.clear_hours + climate.dull_hours)
        cloud, anomaly, gust = (0.8 if dull else 0.15), dice.gauss(0.0, climate.front_c), 0.0
        for hour in range(days * 24):
            at = begin + hour * HOUR_MS
            if dice.random() < 1.0 / (climate.dull_hours if dull else climate.clear_hours):
                dull = not dull
            cloud += 0.25 * ((0.85 if dull else 0.15) - cloud) + dice.gauss(0.0, 0.08)
            anomaly = 0.98 * anomaly + dice.gauss(0.0, 0.2 * climate.front_c)  # fronts of two days
            gust = 0.85 * gust + dice.gauss(0.0, 0.22)
            wet = dull and dice.random() < climate.wet_share
            solar = (at / HOUR_MS + longitude / 15.0) % 24.0
            wave = cos(2.0 * pi * (solar - 15.0) / 24.0)
            covered = min(1.0, max(0.0, cloud))
            air = season_c(at, latitude) + anomaly + climate.swing_c * (1.0 - 0.65 * covered) * wave
            wind = climate.wind_m_s * (1.0 + 0.45 * wave) * max(0.0, 1.0 + gust)
            self._hours.append(Hour(covered, air, wind, climate.wet_mm_h if wet else 0.0))

    def at(self, at: int) -> Sky:
        """The sky at a time: straight between the hours, rain by the whole hour."""
        hours = (at - self._begin) / HOUR_MS
        last = len(self._hours) - 1
        index = min(max(int(hours), 0), last)
        one, two = self._hours[index], self._hours[min(index + 1, last)]
        share = min(max(hours - index, 0.0), 1.0)
        cloud = one.cloud + share * (two.cloud - one.cloud)
        light = irradiance_w_m2(sine_of_elevation(at, self._latitude, self._longitude), cloud)
        air, wind = one.air_c + share * (two.air_c - one.air_c), one.wind_m_s + share * (two.wind_m_s - one.wind_m_s)
        return Sky(light, cloud, air, wind, one.rain_mm_h)
