"""Days computed by hand."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Day
from dawnline.outlook.rhythm import Rhythm
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay, Sun

ZONE = ZoneInfo("Europe/Berlin")
SUN = Sun(47.95, 8.21, ZONE)
DAY = SUN.day(date(2026, 6, 14))


@pytest.fixture
def rhythm() -> Rhythm:
    return Rhythm("ph", SUN, LimitSettings())


def feed(rhythm: Rhythm, start: int, end: int, value: float, step: int = MINUTE_MS) -> list[Day]:
    """Constant readings, each also as a smoothed point, days closed as the pipeline does."""
    days = []
    for at in range(start, end, step):
        while (day := rhythm.close(at, step)) is not None:
            days.append(day)
        rhythm.push(at, value, step)
        rhythm.smoothed(Point(at, value, at, value))
    return days


def close_day(rhythm: Rhythm, day: PondDay = DAY, step: int = MINUTE_MS) -> Day:
    found = rhythm.close(day.end, step)
    assert found is not None
    return found


def test_a_day_in_three_parts(rhythm: Rhythm) -> None:
    morning, evening = DAY.start + 8 * HOUR_MS, DAY.start + 16 * HOUR_MS
    feed(rhythm, DAY.start, morning, 6.4)
    feed(rhythm, morning, evening, 7.0)
    feed(rhythm, evening, DAY.end, 9.2)
    day = close_day(rhythm)
    assert (day.date, day.probe, day.partial) == ("2026-06-14", "ph", False)
    assert day.dawn_low == 6.4
    assert day.dawn_low_at == DAY.start
    assert day.dusk_high == 9.2
    assert day.dusk_high_at == evening
    assert day.swing == pytest.approx(2.8)
    assert day.mean == pytest.approx((6.4 + 7.0 + 9.2) / 3)
    assert (day.minutes_below, day.minutes_above) == (480, 480)
    assert day.coverage == 1.0


def test_a_reading_is_held_for_three_intervals_at_most(rhythm: Rhythm) -> None:
    rhythm.push(DAY.start, 7.0, 10 * MINUTE_MS)
    rhythm.push(DAY.start + 12 * HOUR_MS, 6.0, 10 * MINUTE_MS)
    day = close_day(rhythm, step=10 * MINUTE_MS)
    assert day.coverage == pytest.approx(60 / 1440)
    assert day.mean == pytest.approx(6.5)
    assert day.minutes_below == 30
    assert day.dawn_low is None
    assert day.swing is None


def test_under_sixty_percent_of_the_window_there_is_no_dawn_low(rhythm: Rhythm) -> None:
    window = DAY.dawn[1] - DAY.dawn[0]
    feed(rhythm, DAY.start + round(0.41 * window), DAY.end, 7.0)
    assert close_day(rhythm).dawn_low is None


def test_from_sixty_percent_on_there_is_one(rhythm: Rhythm) -> None:
    window = DAY.dawn[1] - DAY.dawn[0]
    feed(rhythm, DAY.start + round(0.39 * window), DAY.end, 7.0)
    assert close_day(rhythm).dawn_low == 7.0


def test_lows_outside_the_dawn_window_do_not_count(rhythm: Rhythm) -> None:
    feed(rhythm, DAY.start, DAY.dawn[1], 7.5)
    feed(rhythm, DAY.dawn[1], DAY.end, 7.0)
    assert close_day(rhythm).dawn_low == 7.5


def test_highs_outside_the_dusk_window_do_not_count(rhythm: Rhythm) -> None:
    feed(rhythm, DAY.start, DAY.dusk[0], 9.0)
    feed(rhythm, DAY.dusk[0], DAY.dusk[1], 8.0)
    feed(rhythm, DAY.dusk[1], DAY.end, 8.5)
    assert close_day(rhythm).dusk_high == 8.0


def test_a_reading_before_midnight_is_held_into_the_next_day(rhythm: Rhythm) -> None:
    step = 10 * MINUTE_MS
    rhythm.push(DAY.end - step, 7.0, step)
    first = rhythm.close(DAY.end, step)
    assert first is not None
    assert first.coverage == pytest.approx(10 / 1440)
    second = rhythm.close(DAY.end + 24 * HOUR_MS, step)
    assert second is not None
    assert second.coverage == pytest.approx(20 / 1440)  # the rest of three intervals


def test_a_gap_of_days_ends_every_one_of_them(rhythm: Rhythm) -> None:
    feed(rhythm, DAY.start, DAY.end, 7.0)
    days = feed(rhythm, DAY.end + 72 * HOUR_MS, DAY.end + 73 * HOUR_MS, 7.0)
    assert [day.date for day in days] == ["2026-06-14", "2026-06-15", "2026-06-16", "2026-06-17"]
    assert [round(day.coverage, 3) for day in days] == [1.0, 0.001, 0.0, 0.0]
    assert days[2].mean is None


@pytest.mark.parametrize(("on", "hours"), [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25)])
def test_days_of_the_change_of_the_clock(rhythm: Rhythm, on: date, hours: int) -> None:
    day = SUN.day(on)
    feed(rhythm, day.start, day.end, 6.0)
    found = close_day(rhythm, day)
    assert found.coverage == 1.0
    assert found.minutes_below == hours * 60


def test_asking_for_the_running_day_changes_nothing(rhythm: Rhythm) -> None:
    feed(rhythm, DAY.start, DAY.start + 5 * HOUR_MS, 7.123)
    before = rhythm.save()
    so_far = rhythm.so_far(DAY.start + 6 * HOUR_MS, MINUTE_MS)
    assert so_far is not None
    assert so_far.partial
    assert so_far.coverage == pytest.approx((5 * 60 + 2) / 1440)
    assert rhythm.save() == before


def test_the_ordinary_low_needs_five_days(rhythm: Rhythm) -> None:
    feed(rhythm, DAY.start, DAY.end + 4 * 24 * HOUR_MS + MINUTE_MS, 7.0)
    assert rhythm.ordinary_low == 7.0
    rhythm.lows = rhythm.lows[:4]
    assert rhythm.ordinary_low is None


def test_of_dawn_lows_a_fortnight_is_remembered(rhythm: Rhythm) -> None:
    step = 15 * MINUTE_MS
    feed(rhythm, DAY.start, DAY.start + 17 * 24 * HOUR_MS, 7.0, step)
    feed(rhythm, DAY.start + 17 * 24 * HOUR_MS, DAY.start + 26 * 24 * HOUR_MS, 6.5, step)
    assert len(rhythm.lows) == 14
    assert rhythm.ordinary_low == 6.5
