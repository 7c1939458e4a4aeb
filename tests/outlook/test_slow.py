from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from math import cos, exp, pi
from zoneinfo import ZoneInfo

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.slow import Slow
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import Sun

SUN = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin"))
FIRST = date(2026, 6, 1)
STEP_MS = 10 * MINUTE_MS


def water(at: int, day: int) -> float:
    """Highest at 17:00, lowest at 05:00 local summer time; one day is smaller than another."""
    return 7.4 + (0.3 + 0.05 * (day % 3)) * cos(2 * pi * (at / HOUR_MS + 2 - 17) / 24)


def late_days(slow: Slow, days: int, lag_h: Callable[[int], float]) -> list[int]:
    """How many late days in a row are known at the end of each day."""
    shown, late = 7.4, []
    for number in range(days):
        day = SUN.day(FIRST + timedelta(days=number))
        for at in range(day.start, day.end, STEP_MS):
            lag = lag_h(number)
            share = 1 - exp(-STEP_MS / HOUR_MS / lag) if lag else 1.0
            shown += share * (water(at, number) - shown)
            slow.push(Point(at, shown, at, shown), day)
        late.append(slow.late)
    return late


@pytest.mark.parametrize("lag", [4.0, 8.0])
def test_hours_of_lag_are_named_within_three_days(lag: float) -> None:
    slow = Slow()
    late_days(slow, 13, lambda day: lag if day >= 10 else 0.0)
    assert slow.shown


@pytest.mark.parametrize("lag", [0.0, 0.2, 0.5])
def test_a_healthy_electrode_is_not_named(lag: float) -> None:
    slow = Slow()
    assert set(late_days(slow, 20, lambda day: lag if day >= 10 else 0.0)) == {0}


def test_a_probe_that_was_seen_to_is_quick_until_shown_slow() -> None:
    slow = Slow()
    late_days(slow, 14, lambda day: 6.0 if day >= 10 else 0.0)
    slow.forget()
    assert not slow.shown


def test_it_remembers_across_a_restart() -> None:
    slow, again = Slow(), Slow()
    late_days(slow, 12, lambda day: 6.0 if day >= 10 else 0.0)
    again.restore(slow.save())
    assert again.save() == slow.save()
