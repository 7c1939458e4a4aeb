"""Smoothing, swing, silence, sickness and the sudden drop."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.outlook.carbon import carbon_of, ph_of
from dawnline.outlook.drop import PERSISTENCE_MS, Drop
from dawnline.outlook.finding import Condition
from dawnline.outlook.limits import VERY_HIGH_MS, high_priority, high_side, low_priority
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.silence import Silence
from dawnline.outlook.smooth import Point, Smooth
from dawnline.outlook.sun import PHASES, Sun, solar_phase
from dawnline.outlook.swing import Swing

SUN = Sun(47.95, 8.21, ZoneInfo("Europe/Berlin"))
T0 = SUN.day(date(2026, 6, 8)).start


def smoothed(values: dict[int, float], interval: int) -> list[Point]:
    smooth, found = Smooth(), []
    for at, value in values.items():
        point = smooth.push(at, value, interval)
        found += [point] if point else []
    last = smooth.close(max(values) // MINUTE_MS + 1, interval)
    return found + ([last] if last else [])


def test_smoothing_is_deaf_to_spikes() -> None:
    values = {T0 + i * 10_000: 7.0 for i in range(360)}
    for i in (50, 51, 200):
        values[T0 + i * 10_000] = 2.0
    assert {point.value for point in smoothed(values, 10_000)} == {7.0}


def test_a_smoothed_point_needs_three_and_stands_at_its_middle() -> None:
    points = smoothed({T0 + i * 15 * MINUTE_MS: 7.0 + 0.1 * i for i in range(5)}, 15 * MINUTE_MS)
    assert len(points) == 3
    assert points[0].value == pytest.approx(7.1)
    assert points[0].at == T0 + 15 * MINUTE_MS + 30_000
    assert points[0].newest == pytest.approx(7.2)


def test_smoothing_does_not_reach_over_a_gap() -> None:
    before = {T0 + i * MINUTE_MS: 8.0 for i in range(20)}
    after = {T0 + 5 * HOUR_MS + i * MINUTE_MS: 6.0 for i in range(20)}
    assert {point.value for point in smoothed(before | after, MINUTE_MS)} == {8.0, 6.0}


@given(st.lists(st.tuples(st.integers(1, 90), st.floats(5.0, 9.0)), min_size=1, max_size=200))
def test_the_swing_is_that_of_brute_force(steps: list[tuple[int, float]]) -> None:
    swing, at, points = Swing(), T0, []
    for minutes, value in steps:
        at += minutes * MINUTE_MS
        swing.push(at, value)
        points.append((at, value))
        inside = [v for t, v in points if t > at - DAY_MS]
        hours = {t // HOUR_MS for t, _ in points if t // HOUR_MS >= (at - DAY_MS) // HOUR_MS}
        expected = max(inside) - min(inside) if len(hours) >= 15 else None
        assert swing.figure(at) == expected


def test_silence_waits_three_intervals_and_at_least_five_minutes() -> None:
    silence = Silence()
    silence.heard(T0)
    assert silence.condition(T0 + 5 * MINUTE_MS, 10_000) is Condition.CLEAR
    assert silence.condition(T0 + 5 * MINUTE_MS + 1, 10_000) is Condition.MET
    assert silence.condition(T0 + 45 * MINUTE_MS, 15 * MINUTE_MS) is Condition.CLEAR
    assert silence.condition(T0 + 46 * MINUTE_MS, 15 * MINUTE_MS) is Condition.MET
    assert "46 min" in silence.evidence(T0 + 46 * MINUTE_MS)


def test_a_probe_that_never_spoke_is_missed_within_the_hour() -> None:
    silence = Silence()
    assert silence.condition(T0, None) is Condition.CLEAR
    assert silence.condition(T0 + 61 * MINUTE_MS, None) is Condition.MET


def test_limits_and_their_priorities() -> None:
    assert [high_side(v, 9.0, 0.1).name for v in (9.01, 9.0, 8.9, 8.89)] == [
        "MET",
        "BETWEEN",
        "BETWEEN",
        "CLEAR",
    ]
    assert [high_priority(v, VERY_HIGH_MS) for v in (9.5, 9.51)] == ["low", "medium"]
    assert high_priority(9.8, VERY_HIGH_MS - 1) == "low"
    assert [high_priority(9.8, minutes * MINUTE_MS, 15 * MINUTE_MS) for minutes in (59, 60)] == ["low", "medium"]
    limits = LimitSettings()
    assert [low_priority(limits, low) for low in (None, 7.0, 6.5, 6.2)] == [
        "high",
        "high",
        "medium",
        "medium",
    ]


def test_the_solar_phase_goes_round_once_a_day() -> None:
    day = SUN.day(date(2026, 6, 14))
    assert solar_phase(day.sunrise, day) == 0
    assert solar_phase(day.sunset, day) == 24
    phases = [solar_phase(at, day) for at in range(day.sunset, day.end, MINUTE_MS)]
    phases += [solar_phase(at, day) for at in range(day.start, day.sunrise, MINUTE_MS)]
    assert phases == sorted(phases)
    assert set(phases) == set(range(24, PHASES))


def wave(at: int) -> float:
    """An ordinary pond: a triangle between 7.0 at five and 7.6 at five in the afternoon."""
    hour = ((at - T0) / HOUR_MS - 5) % 24
    return 7.0 + 0.6 * (hour / 12 if hour <= 12 else (24 - hour) / 12)


def fed(drop: Drop, start: int, end: int, extra: float = 0.0) -> list[Condition]:
    """Minutes of the wave, less `extra` pH an hour from `start` on."""
    found = []
    for at in range(start, end, MINUTE_MS):
        value = wave(at) - extra * (at - start) / HOUR_MS
        drop.push(Point(at, value, at, value), SUN.day_at(at), MINUTE_MS)
        found.append(drop.condition())
    return found


def test_an_ordinary_night_is_no_drop_and_an_added_fall_is() -> None:
    drop = Drop()
    assert set(fed(drop, T0, T0 + 6 * DAY_MS)) == {Condition.CLEAR}
    night = fed(drop, T0 + 6 * DAY_MS, T0 + 6 * DAY_MS + 3 * HOUR_MS, extra=0.2)
    first = night.index(Condition.MET)
    assert 30 <= first <= 90  # minutes
    assert night[first - 1] is Condition.BETWEEN
    assert night.index(Condition.BETWEEN) == first - PERSISTENCE_MS // MINUTE_MS
    assert "is usual at this hour" in drop.evidence()
    assert drop.to_come() > 0.8


def test_a_fall_that_leapt_and_lies_flat_has_nothing_to_come() -> None:
    drop = Drop()
    fed(drop, T0, T0 + 6 * DAY_MS)
    night = T0 + 6 * DAY_MS
    for at in range(night, night + 40 * MINUTE_MS, MINUTE_MS):
        value = wave(night) - 0.5
        drop.push(Point(at, value, at, value), SUN.day_at(at), MINUTE_MS)
    assert drop.condition() is Condition.MET
    assert drop.to_come() == 0.0
    assert 0.0 < drop.to_come(0.01) < 0.2  # give or take a count


def test_what_falls_back_from_a_climb_in_the_night_swings_until_it_has_fallen_much_further() -> None:
    """A beat of seven hours: up by 0.5 where pH falls on every other night, and down again."""
    drop = Drop()
    fed(drop, T0, T0 + 6 * DAY_MS)
    night, swung = T0 + 6 * DAY_MS, {}
    for minute in range(7 * 60):
        at = night + minute * MINUTE_MS
        value = wave(at) + (0.5 if minute < 240 else 0.5 - (minute - 240) / 60) * min(minute / 210, 1.0)
        drop.push(Point(at, value, at, value), SUN.day_at(at), MINUTE_MS)
        swung[round(value - wave(at), 2)] = drop.swings(SUN.day_at(at))
    assert drop.condition() is Condition.MET
    assert (swung[-0.2], swung[-1.6]) == (True, False)


def test_a_fall_from_unusual_heights_to_the_ordinary_is_none() -> None:
    drop = Drop()
    fed(drop, T0, T0 + 6 * DAY_MS)
    evening = T0 + 6 * DAY_MS + 17 * HOUR_MS
    for at in range(T0 + 6 * DAY_MS, evening + 3 * HOUR_MS, MINUTE_MS):
        bright = max(0.0, 1.0 - abs(at - evening) / (3 * HOUR_MS))
        value = wave(at) + bright
        drop.push(Point(at, value, at, value), SUN.day_at(at), MINUTE_MS)
        assert drop.condition() is Condition.CLEAR


@pytest.mark.parametrize(("steps", "fall", "told"), [(0.2, 0.2, False), (0.2, 0.6, True), (0.0, 0.2, True)])
def test_where_the_days_sink_a_fall_to_where_they_lead_is_none(steps: float, fall: float, told: bool) -> None:
    """Each day `steps` lower; the last is late, and loses `fall` within half an hour after noon."""
    drop, noon, seen = Drop(), T0 + 6 * DAY_MS + 14 * HOUR_MS, set()
    for at in range(T0, noon + 90 * MINUTE_MS, MINUTE_MS):
        sunk = steps * min((at - T0) / DAY_MS, (noon - DAY_MS - T0) / DAY_MS)
        value = wave(at) - sunk - fall * min(1.0, max(0.0, (at - noon) / (30 * MINUTE_MS)))
        drop.push(Point(at, value, at, value), SUN.day_at(at), MINUTE_MS)
        seen.add(drop.condition())
    assert (Condition.MET in seen) is told


def green(drop: Drop, day: int, dusk: float, gain: float) -> set[Condition]:
    """Noon to noon in a pond full of algae: from pH `dusk` at seven it gains `gain` of carbon an hour until five."""
    seen = set()
    for minute in range(12 * 60, 36 * 60, 5):
        at, hour = T0 + day * DAY_MS + minute * MINUTE_MS, (minute / 60 - 19) % 24
        dark = hour if hour < 10 else 10 * max(0.0, 1.0 - (hour - 10) / 4)
        value = ph_of(carbon_of(dusk) + gain * dark)
        drop.push(Point(at, value, at, value), SUN.day_at(at), 5 * MINUTE_MS)
        seen.add(drop.condition())
    return seen


@pytest.mark.parametrize(("gain", "told"), [(0.08, False), (0.14, True)])
def test_after_a_bright_evening_a_fall_is_counted_in_carbon(gain: float, told: bool) -> None:
    """From pH 8 to 7 it takes little carbon: who gains 0.08 for 0.042 an hour passes there steeper, and is no crash."""
    drop = Drop()
    for day in range(5):
        green(drop, day, 8.7, 0.04 + 0.0005 * day)
    assert (Condition.MET in green(drop, 5, 8.85, gain)) is told


def test_in_the_first_days_only_a_steep_fall_counts() -> None:
    assert Condition.MET not in fed(Drop(), T0, T0 + 3 * HOUR_MS, extra=0.3)
    assert Condition.MET in fed(Drop(), T0, T0 + 3 * HOUR_MS, extra=0.9)


def test_after_an_instruments_step_falls_are_counted_afresh() -> None:
    drop = Drop()
    fed(drop, T0, T0 + 6 * DAY_MS)
    fed(drop, T0 + 6 * DAY_MS, T0 + 6 * DAY_MS + 2 * HOUR_MS, extra=0.3)
    assert drop.condition() is Condition.MET
    drop.forget(T0 + 6 * DAY_MS + 2 * HOUR_MS)
    assert drop.condition() is Condition.CLEAR
    later = fed(drop, T0 + 6 * DAY_MS + 2 * HOUR_MS, T0 + 6 * DAY_MS + 3 * HOUR_MS)
    assert set(later) == {Condition.CLEAR}


def test_a_gap_ends_what_stood_out_before_it() -> None:
    drop = Drop()
    fed(drop, T0, T0 + 6 * DAY_MS)
    fed(drop, T0 + 6 * DAY_MS, T0 + 6 * DAY_MS + 2 * HOUR_MS, extra=0.3)
    assert drop.condition() is Condition.MET
    later = T0 + 6 * DAY_MS + 8 * HOUR_MS
    for at in range(later, later + 30 * MINUTE_MS, MINUTE_MS):
        drop.push(Point(at, 6.7, at, 6.7), SUN.day_at(at), MINUTE_MS)
        assert drop.condition() is Condition.CLEAR
        assert drop.to_come() == 0.0


def test_what_was_explained_stays_explained_when_the_probe_is_cleaned_meanwhile() -> None:
    drop = Drop()
    drop.forget(T0 + 2 * HOUR_MS)
    drop.forget(T0)
    assert drop.settled_at == T0 + 2 * HOUR_MS + 10 * MINUTE_MS


@given(st.integers(0, 59), st.lists(st.floats(4.0, 11.0), min_size=3, max_size=3), st.integers(20, 40))
def test_a_point_of_the_smoothed_series_lies_between_its_readings(second: int, odd: list[float], place: int) -> None:
    """Three wild values among steady ones leave the smoothed series where it is."""
    values = {T0 + i * MINUTE_MS + second * 1000: 7.0 for i in range(60)}
    for i, value in enumerate(odd):
        values[T0 + (place + i) * MINUTE_MS + second * 1000] = value
    assert {point.value for point in smoothed(values, MINUTE_MS)} == {7.0}


def test_of_each_phase_a_fortnight_is_remembered() -> None:
    drop = Drop()
    for at in range(T0, T0 + 18 * DAY_MS, 10 * MINUTE_MS):
        drop.push(Point(at, wave(at), at, wave(at)), SUN.day_at(at), 10 * MINUTE_MS)
    assert len(drop.profile) == PHASES
    assert {len(days) for days in drop.profile.values()} == {14}


def test_what_leaps_up_as_on_no_day_before_is_told_and_a_bright_day_is_not() -> None:
    drop = Drop()
    fed(drop, T0, T0 + 6 * DAY_MS)
    at = T0 + 6 * DAY_MS + 10 * HOUR_MS
    fed(drop, T0 + 6 * DAY_MS, at)
    assert drop.leap(0.01) is None
    brighter, leaping = Drop(), Drop()
    brighter.restore(drop.save())
    leaping.restore(drop.save())
    found = []
    for minute in range(0, 120, 5):
        now = at + minute * MINUTE_MS
        brighter.push(Point(now, wave(now) + 0.2 * minute / 60, now, 0.0), SUN.day_at(now), MINUTE_MS)
        leaping.push(Point(now, wave(now) + 0.5 * (minute >= 60), now, 0.0), SUN.day_at(now), MINUTE_MS)
        assert brighter.leap(0.01) is None
        found += [(minute, leap)] if (leap := leaping.leap(0.01)) else []
    minute, (size, window) = found[0]
    assert (minute, window) == (60, 15 * MINUTE_MS)
    assert size == pytest.approx(0.5, abs=0.1)
