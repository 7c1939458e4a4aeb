"""The simulator's sun against published sunrises, and its weather."""

from __future__ import annotations

from datetime import datetime
from math import radians, sin
from random import Random

import pytest

from dawnline_simulator.sun import irradiance_w_m2, sine_of_elevation
from dawnline_simulator.weather import HOUR_MS, Climate, Weather

# Computed alike by ephem 4.2.1 and pvlib 0.16.1 (NREL SPA): the sun's centre at -0.8333 degrees.
SUNS = [
    (51.4779, -0.0015, "2024-03-20T06:01:48+00:00", "2024-03-20T18:13:49+00:00"),
    (51.4779, -0.0015, "2024-06-21T04:42:51+01:00", "2024-06-21T21:20:58+01:00"),
    (51.4779, -0.0015, "2024-12-21T08:03:20+00:00", "2024-12-21T15:53:15+00:00"),
    (35.0116, 135.7681, "2024-06-21T04:43:19+09:00", "2024-06-21T19:14:12+09:00"),
    (35.0116, 135.7681, "2024-09-22T05:44:53+09:00", "2024-09-22T17:53:43+09:00"),
    (-33.8688, 151.2093, "2024-03-20T06:58:21+11:00", "2024-03-20T19:06:18+11:00"),
    (-33.8688, 151.2093, "2024-12-21T05:40:51+11:00", "2024-12-21T20:05:26+11:00"),
]


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


@pytest.mark.parametrize(("latitude", "longitude", "rise", "set_"), SUNS)
def test_the_sun_is_on_the_horizon_at_published_times(latitude, longitude, rise, set_):
    horizon = sin(radians(-0.8333))
    for moment, sign in ((ms(rise), 1), (ms(set_), -1)):
        # within three minutes: the light of a story needs no more
        before = sine_of_elevation(moment - sign * 180_000, latitude, longitude)
        after = sine_of_elevation(moment + sign * 180_000, latitude, longitude)
        assert before < horizon < after


def test_no_light_below_the_horizon_and_less_under_cloud():
    assert irradiance_w_m2(-0.01, 0.0) == 0.0
    assert irradiance_w_m2(0.9, 0.0) > irradiance_w_m2(0.9, 0.7) > irradiance_w_m2(0.9, 1.0) > 0.0


def test_one_seed_is_one_weather_however_long():
    short, long, other = (Weather(Climate(), Random(seed), 0, days) for seed, days in ((7, 3), (7, 30), (8, 3)))
    hours = [hour * HOUR_MS + 1234 for hour in range(70)]
    assert [short.at(at) for at in hours] == [long.at(at) for at in hours]
    assert [short.at(at) for at in hours] != [other.at(at) for at in hours]


def test_weather_stays_in_its_bounds_and_between_its_hours():
    weather = Weather(Climate(cloud_mean=0.5, cloud_scatter=0.6, wind_mean_m_s=3.0), Random(1), 0, 20)
    skies = [weather.at(hour * HOUR_MS // 2) for hour in range(20 * 48)]
    assert all(0.0 <= sky.cloud <= 1.0 and sky.wind_m_s >= 0.0 for sky in skies)
    one, between, two = skies[10], skies[11], skies[12]
    assert between.air_c == pytest.approx((one.air_c + two.air_c) / 2)
    assert weather.at(10**13) == skies[-2]  # beyond the last hour it stays
