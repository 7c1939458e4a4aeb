"""Sunrise and sunset against two full ephemerides that agree to the second (tests/reference/sun.csv)."""

from __future__ import annotations

import csv
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from dawnline.outlook.sun import Sun

from ..machine import missing

TABLE = Path(__file__).parents[1] / "reference" / "sun.csv"
ROWS = list(csv.reader(TABLE.read_text(encoding="utf-8").splitlines()[2:]))


@pytest.mark.parametrize(("place", "latitude", "longitude", "zone", "on", "rise", "fall"), ROWS)
def test_sunrise_and_sunset_to_a_minute(
    place: str, latitude: str, longitude: str, zone: str, on: str, rise: str, fall: str
) -> None:
    tz = ZoneInfo(zone)
    day = Sun(float(latitude), float(longitude), tz).day(date.fromisoformat(on))
    for found, expected in ((day.sunrise, rise), (day.sunset, fall)):
        wanted = datetime.fromisoformat(f"{on}T{expected}").replace(tzinfo=tz).timestamp()
        assert abs(found / 1000 - wanted) <= 60, place


def test_sunrise_against_a_live_ephemeris() -> None:
    try:
        import ephem
    except ImportError:
        missing("ephem, of the group oracle")
    place = ephem.Observer()
    place.lat, place.lon, place.pressure, place.horizon = "47.95", "8.21", 0, "-0:50"
    sun = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin"))
    for on in (date(2026, 6, 14), date(2026, 12, 21), date(2026, 3, 29)):
        place.date = ephem.Date(on)
        rise = place.next_rising(ephem.Sun(), use_center=True).datetime().replace(tzinfo=ZoneInfo("UTC"))
        assert abs(sun.day(on).sunrise / 1000 - rise.timestamp()) <= 60


@pytest.mark.parametrize("on", [date(2024, 6, 21), date(2024, 12, 21)])
def test_where_the_sun_does_not_rise_or_set_six_and_eighteen_stand_in(on: date) -> None:
    zone = ZoneInfo("Europe/Oslo")
    day = Sun(69.6492, 18.9553, zone).day(on)
    hours = [datetime.fromtimestamp(at / 1000, zone).strftime("%H:%M") for at in (day.sunrise, day.sunset)]
    assert hours == ["06:00", "18:00"]


@pytest.mark.parametrize(("on", "hours"), [(date(2026, 3, 29), 23), (date(2026, 6, 14), 24), (date(2026, 10, 25), 25)])
def test_pond_days_follow_both_changes_of_the_clock(on: date, hours: int) -> None:
    sun = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin"))
    day = sun.day(on)
    assert day.end - day.start == hours * 3_600_000
    assert sun.day_at(day.start) == day
    assert sun.day_at(day.end - 1) == day
    assert sun.day_at(day.end).date != on


# Where one local date can have two sunsets and the next none, where an event falls on midnight UTC, where the zone is
# far from the sun's time or on the other side of the date line, and where midnight itself is skipped by the clock.
ODD_PLACES = [
    ("Reykjavik", 64.13, -21.9, "Atlantic/Reykjavik"),
    ("Nome", 64.5, -165.4, "America/Nome"),
    ("Kashgar", 39.5, 76.0, "Asia/Shanghai"),
    ("Chicago", 41.9, -87.6, "America/Chicago"),
    ("Kiritimati", 1.87, -157.4, "Pacific/Kiritimati"),
    ("Auckland", -36.85, 174.76, "Pacific/Auckland"),
    ("Santiago", -33.4, -70.6, "America/Santiago"),
    ("Lord Howe", -31.5, 159.0, "Australia/Lord_Howe"),
]


@pytest.mark.parametrize(("place", "latitude", "longitude", "zone"), ODD_PLACES)
def test_the_days_of_a_year_join_and_the_sun_moves_by_minutes(
    place: str, latitude: float, longitude: float, zone: str
) -> None:
    sun, hour = Sun(latitude, longitude, ZoneInfo(zone)), 3_600_000
    days = [sun.day(date(2026, 1, 1) + timedelta(days=i)) for i in range(366)]
    for before, day in pairwise(days):
        assert day.start == before.end
        assert sun.day_at(day.start) == sun.day_at(day.end - 1) == day
        assert day.sunrise < day.sunset < day.sunrise + 24 * hour
        assert day.start <= day.sunrise < day.end
        assert abs(day.sunrise - before.sunrise - 24 * hour) < hour / 6, (place, day.date)
        assert abs(day.sunset - before.sunset - 24 * hour) < hour / 6, (place, day.date)


ENDS_OF_THE_EARTH = [
    (90.0, 0.0, "UTC"),
    (-90.0, 0.0, "UTC"),
    (0.0, 180.0, "Pacific/Auckland"),
    (0.0, -180.0, "Pacific/Fiji"),
]


@pytest.mark.parametrize(("latitude", "longitude", "zone"), ENDS_OF_THE_EARTH)
def test_the_ends_of_the_earth_have_days_too(latitude: float, longitude: float, zone: str) -> None:
    sun = Sun(latitude, longitude, ZoneInfo(zone))
    for month in range(1, 13):
        day = sun.day(date(2026, month, 21))
        assert day.sunrise < day.sunset
        assert day.dawn[0] < day.dawn[1]
        assert day.dusk[1] <= day.end


def test_where_the_sign_of_the_longitude_was_forgotten_the_sun_still_rises_before_it_sets() -> None:
    day = Sun(41.9, 87.6, ZoneInfo("America/Chicago")).day(date(2026, 1, 21))
    assert day.sunrise < day.sunset < day.sunrise + 24 * 3_600_000


def test_the_windows_of_dawn_low_and_dusk_high() -> None:
    day = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin")).day(date(2026, 6, 14))
    assert day.dawn == (day.start, day.sunrise + 4 * 3_600_000)
    assert day.dusk[0] == day.start + 12 * 3_600_000
    assert day.dusk[1] == day.sunset + 2 * 3_600_000


def test_dusk_is_cut_at_midnight() -> None:
    day = Sun(65.0, 25.5, ZoneInfo("Europe/Helsinki")).day(date(2026, 6, 10))
    assert day.dusk[1] == day.end
