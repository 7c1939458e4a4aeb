from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from math import cos, pi
from zoneinfo import ZoneInfo

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.rise import Rise
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import Sun

SUN = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin"))
FIRST = date(2026, 6, 1)
NIGHT = SUN.day(FIRST + timedelta(days=6)).start  # the midnight of the night told about


def water(at: int) -> float:
    """Highest, 7.7, at 17:00 local summer time; lowest, 7.1, at 05:00."""
    return 7.4 + 0.3 * cos(2 * pi * (at / HOUR_MS + 2 - 17) / 24)


def shown(
    days: int, added: Callable[[float], float], rise: Rise | None = None, leap_at: float = float("inf")
) -> list[tuple[float, bool]]:
    """For each ten minutes: hours from NIGHT, and whether a rise stands. `added` is what the probe adds by then.

    It is told of a leap in the ten minutes after `leap_at` hours.
    """
    rise, found = rise or Rise(), []
    for number in range(days):
        day = SUN.day(FIRST + timedelta(days=number))
        for at in range(day.start, day.end, 10 * MINUTE_MS):
            hours = (at - NIGHT) / HOUR_MS
            value = water(at) + added(hours)
            rise.push(Point(at, value, at, value), day, water(at), 10 * MINUTE_MS)
            if leap_at <= hours < leap_at + 1 / 6:
                rise.leap(at, value, (1.0, 15 * MINUTE_MS))
            found.append((hours, rise.since is not None))
    return found


def test_a_climb_in_the_dark_above_every_high_is_the_probes() -> None:
    found = shown(8, lambda hours: min(1.5, max(0.0, 0.5 * hours)))
    begun = next(hours for hours, stands in found if stands)
    assert 1.0 < begun < 3.0
    assert all(stands for hours, stands in found if begun < hours < begun + 24)  # it stays where water cannot be


@pytest.mark.parametrize(
    "added",
    [
        lambda hours: 0.0,
        lambda hours: 0.4 if hours > 0 else 0.0,  # air switched on: up, but not above the afternoons
        lambda hours: max(0.0, min(2.0, 0.3 * (hours - 9))),  # a bloom climbs by day
        lambda hours: -max(0.0, min(1.5, 0.3 * hours)),  # a fall is no rise
    ],
)
def test_what_water_does_is_none(added: Callable[[float], float]) -> None:
    assert not any(stands for hours, stands in shown(7, added) if hours < 18)


def test_back_where_water_may_be_it_is_over() -> None:
    found = shown(8, lambda hours: 1.2 if 1 < hours < 10 else 0.0)
    assert all(stands for hours, stands in found if 2 < hours < 11.5)  # not before it was there for twelve readings
    assert not any(stands for hours, stands in found if hours > 12.5)


def test_a_leap_stands_until_the_probe_shows_what_is_usual_again() -> None:
    rise = Rise()
    found = shown(8, lambda hours: 1.0 if 8 < hours < 10 else -0.4 if 10 < hours < 14 else 0.0, rise, leap_at=8.1)
    assert [stands for hours, stands in found if 8.2 < hours < 15.9] == [True] * 46  # what falls from it is no fall
    assert not any(stands for hours, stands in found if hours > 16.5)


@pytest.mark.parametrize(("shown_then", "over_at"), [(-1.0, 12.0), (0.25, 12.0), (0.4, 25.3)])
def test_after_a_climb_in_the_dark_less_than_what_is_usual_will_do_and_a_little_more(
    shown_then: float, over_at: float
) -> None:
    found = shown(9, lambda hours: 1.2 if 1 < hours < 10 else shown_then)
    ends = next(hours for hours, stands in found if hours > 10 and not stands)
    assert ends == pytest.approx(over_at, abs=0.6)  # after twelve readings, or a day


def test_a_leap_to_where_the_pond_has_been_before_is_none() -> None:
    found = shown(8, lambda hours: 0.3 if hours > 8 else 0.0, leap_at=8.1)
    assert not any(stands for hours, stands in found if hours < 10)


def test_a_leap_is_believed_after_a_day_where_it_has_come_down_by_then() -> None:
    found = shown(9, lambda hours: 0.98 ** (hours - 8) if hours > 8 else 0.0, leap_at=8.1)  # a dose that nobody logged
    assert all(stands for hours, stands in found if 8.2 < hours < 32)
    assert not any(stands for hours, stands in found if hours > 32.5)


def test_a_leap_that_stays_as_large_is_held_for_a_week() -> None:
    found = shown(16, lambda hours: 1.0 if hours > 8 else 0.0, leap_at=8.1)
    assert all(stands for hours, stands in found if 8.2 < hours < 7 * 24 + 8)
    assert not any(stands for hours, stands in found if hours > 7 * 24 + 8.5)


def test_a_probe_seen_to_is_believed_until_it_rises_again() -> None:
    rise = Rise()
    shown(7, lambda hours: 1.2 if hours > 1 else 0.0, rise)
    assert rise.since is not None
    rise.forget()
    assert rise.since is None


def test_it_remembers_across_a_restart() -> None:
    rise, again = Rise(), Rise()
    shown(7, lambda hours: 1.2 if hours > 1 else 0.0, rise)
    again.restore(rise.save())
    assert again.save() == rise.save()
