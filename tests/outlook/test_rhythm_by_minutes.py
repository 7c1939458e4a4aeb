"""The figures of a day against a second witness: every minute of it asked one by one.

The witness knows only the sentences of the contract: a good reading is held until the next one, for three intervals at
most; coverage, mean and minutes are counted over what is held; a window covered by less than 60 % has no figure.
"""

from __future__ import annotations

from datetime import date
from math import isnan
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.duration import MINUTE_MS
from dawnline.event import Day
from dawnline.outlook.rhythm import Rhythm
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay, Sun

SUN = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin"))
LIMITS = LimitSettings()
Readings = list[tuple[int, float]]


def held(readings: Readings, at: int, interval: int) -> float | None:
    """The value held at `at`, or None."""
    before = [reading for reading in readings if reading[0] <= at]
    return before[-1][1] if before and at < before[-1][0] + 3 * interval else None


def witness(readings: Readings, day: PondDay, interval: int) -> dict[str, float | None]:
    """The figures of the day, by asking each of its minutes; readings lie on whole minutes."""
    minutes = {at: held(readings, at, interval) for at in range(day.start, day.end, MINUTE_MS)}
    values = [value for value in minutes.values() if value is not None]

    def extreme(window: tuple[int, int], pick: object) -> float | None:
        seen = sum(value is not None for at, value in minutes.items() if window[0] <= at < window[1])
        inside = [value for at, value in readings if window[0] <= at < window[1]]
        whole = (window[1] - window[0]) / MINUTE_MS
        if not inside or abs(seen - 0.6 * whole) < 2:
            return float("nan") if inside else None  # on the edge, to the minute: either is right
        return pick(inside) if seen >= 0.6 * whole else None  # type: ignore[operator]

    return {
        "dawn_low": extreme(day.dawn, min),
        "dusk_high": extreme(day.dusk, max),
        "mean": sum(values) / len(values) if values else None,
        "minutes_below": sum(value < LIMITS.ph_low for value in values),
        "minutes_above": sum(value > LIMITS.ph_high for value in values),
        "coverage": len(values) / len(minutes),
    }


def figures(readings: Readings, day: PondDay, interval: int) -> Day:
    """What the rhythm makes of it."""
    rhythm, found = Rhythm("ph", SUN, LIMITS), []
    for at, value in readings:
        while (ended := rhythm.close(at, interval)) is not None:
            found.append(ended)
        rhythm.push(at, value, interval)
        rhythm.smoothed(Point(at, value, at, value))
    while (ended := rhythm.close(day.end, interval)) is not None:
        found.append(ended)
    return next(each for each in found if each.date == day.date.isoformat())


@st.composite
def records(draw: st.DrawFn) -> tuple[Readings, PondDay, int]:
    """A day of any length, and readings from the day before to the day after, with gaps."""
    day = SUN.day(draw(st.sampled_from([date(2026, 3, 29), date(2026, 6, 14), date(2026, 10, 25), date(2026, 12, 31)])))
    interval = draw(st.sampled_from([1, 5, 15, 60])) * MINUTE_MS
    readings: Readings = []
    at = day.start - draw(st.integers(1, 300)) * MINUTE_MS
    while at < day.end + 60 * MINUTE_MS and len(readings) < 400:
        readings.append((at, draw(st.sampled_from([6.3, 6.5, 7.0, 7.7, 9.0, 9.4]))))
        at += interval * draw(st.sampled_from([1] * 12 + [2, 3, 4, 40]))
    return readings, day, interval


@settings(max_examples=40)
@given(records())
def test_the_figures_are_those_of_every_minute_asked(record: tuple[Readings, PondDay, int]) -> None:
    readings, day, interval = record
    found, expected = figures(readings, day, interval), witness(readings, day, interval)
    for name, value in expected.items():
        if value is None:
            assert getattr(found, name) is None, name
        elif not isnan(value):
            assert getattr(found, name) == pytest.approx(value, abs=1e-9), name
    if found.dawn_low is not None and found.dusk_high is not None:
        assert found.swing == pytest.approx(found.dusk_high - found.dawn_low)
    assert found.dawn_low_at is None or day.dawn[0] <= found.dawn_low_at < day.dawn[1]
    assert found.dusk_high_at is None or day.dusk[0] <= found.dusk_high_at < day.dusk[1]
