"""Air, cloud and wind over the pond: hour by hour, seeded, the same for one seed however long it is asked
for.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi
from typing import NamedTuple

from dawnline_simulator.dice import Dice

HOUR_MS = 3_600_000
DAY_HOURS = 24


@dataclass(frozen=True, slots=True)
class Climate:
    """What the season brings: means and scatter. Black Forest valley in early June; invented, common
    sense.
    """

    air_mean_c: float = 15.5
    air_swing_c: float = 6.0  # half the difference of a clear day's warmest and coldest hour
    air_scatter_c: float = 1.2  # from day to day
    cloud_mean: float = 0.35
    cloud_scatter: float = 0.2
    wind_mean_m_s: float = 1.5


class Sky(NamedTuple):
    """Cloud 0 to 1, air temperature [degC], wind [m/s]."""

    cloud: float
    air_c: float
    wind_m_s: float


class Weather:
    """The weather from `begin` (a local midnight, Unix ms) on; beyond what was asked for the last hour
    stays.
    """

    def __init__(self, climate: Climate, dice: Dice, begin: int, days: int) -> None:
        self._begin = begin
        self._hours: list[Sky] = []
        anomaly = gust = 0.0
        for _ in range(days):
            anomaly = 0.7 * anomaly + dice.gauss(0.0, climate.air_scatter_c * 0.7)
            day_cloud = climate.cloud_mean + dice.gauss(0.0, climate.cloud_scatter)
            for hour in range(DAY_HOURS):
                gust = 0.8 * gust + dice.gauss(0.0, 0.25)
                cloud = min(1.0, max(0.0, day_cloud + dice.gauss(0.0, climate.cloud_scatter * 0.5)))
                swing = climate.air_swing_c * (1.0 - 0.5 * min(1.0, max(0.0, day_cloud)))
                air = climate.air_mean_c + anomaly + swing * cos(2.0 * pi * (hour - 15.5) / DAY_HOURS)
                by_day = 1.0 + 0.5 * cos(2.0 * pi * (hour - 15.0) / DAY_HOURS)
                self._hours.append(Sky(cloud, air, max(0.0, climate.wind_mean_m_s * by_day * (1.0 + gust))))

    def at(self, at: int) -> Sky:
        """The sky at a time, straight between the hours.

        >>> from random import Random
        >>> short, long = (Weather(Climate(), Random(1), 0, days) for days in (2, 9))
        >>> short.at(HOUR_MS) == long.at(HOUR_MS)
        True
        """
        hours = (at - self._begin) / HOUR_MS
        last = len(self._hours) - 1
        index = min(max(int(hours), 0), last)
        here, there = self._hours[index], self._hours[min(index + 1, last)]
        share = min(max(hours - index, 0.0), 1.0)
        return Sky(
            here.cloud + share * (there.cloud - here.cloud),
            here.air_c + share * (there.air_c - here.air_c),
            here.wind_m_s + share * (there.wind_m_s - here.wind_m_s),
        )
