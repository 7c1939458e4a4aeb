from __future__ import annotations

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.climb import NO_FALL_MS, NO_LOW_MS, Climb, Ordinary
from dawnline.outlook.smooth import Point

T0 = 1_780_000_000_000
NIGHT = Ordinary(falls=(0.02, 0.08), level=7.4, rise=0.01, hiss=0.01, grain=0.01)
MORNING = NIGHT._replace(falls=(-0.05, -0.2), rise=0.08)


def climb(values: list[float], ordinary: Ordinary = NIGHT, interval: int = MINUTE_MS, leap: float = 0.0) -> Climb:
    made = Climb()
    for i, value in enumerate(values):
        at = T0 + i * interval
        made.push(Point(at, value, at, value), ordinary, interval, leap)
    return made


def gently(low: float, high: float, minutes: int) -> list[float]:
    return [low + (high - low) * i / minutes for i in range(minutes + 1)]


def test_a_climb_at_night_far_quicker_than_water_upsets_for_hours() -> None:
    upset = climb(gently(7.4, 7.8, 40))
    at = upset.upset_at
    assert at is not None
    assert upset.upset(at + NO_FALL_MS, NO_FALL_MS)
    assert not upset.upset(at + NO_FALL_MS + 1, NO_FALL_MS)
    assert not upset.upset(at + NO_LOW_MS + 1, NO_LOW_MS)


def test_one_slower_or_smaller_does_not() -> None:
    assert climb(gently(7.4, 7.8, 120)).upset_at is None
    assert climb(gently(7.4, 7.65, 40)).upset_at is None
    assert climb(gently(7.4, 7.6, 40), NIGHT._replace(grain=0.1)).upset_at is None


def test_nor_one_back_to_what_is_usual() -> None:
    assert climb(gently(6.9, 7.4, 40)).upset_at is None


def test_nor_one_at_an_hour_at_which_it_climbs_each_day() -> None:
    assert climb(gently(7.4, 7.8, 40), MORNING).upset_at is None


def test_unless_it_leaps_as_on_no_day() -> None:
    assert climb(gently(7.4, 7.8, 40), MORNING, leap=0.35).upset_at is not None


@pytest.mark.parametrize(("jump", "upsets"), [(0.12, False), (0.15, True)])
def test_a_jump_from_one_reading_to_the_next_upsets(jump: float, upsets: bool) -> None:
    assert (climb([7.4, 7.4, 7.4 + jump, 7.2], interval=15 * MINUTE_MS).upset_at is not None) is upsets


def test_where_such_jumps_are_usual_it_does_not() -> None:
    jumps, slowly = [7.4, 7.4, 7.6, 7.6], 15 * MINUTE_MS
    assert climb(jumps, NIGHT, slowly).upset_at is not None
    assert climb(jumps, NIGHT._replace(hiss=0.05), slowly).upset_at is None
    assert climb(jumps, NIGHT._replace(rise=0.1), slowly).upset_at is None
    assert climb(jumps, NIGHT._replace(grain=0.1), slowly).upset_at is None


def test_nor_does_a_spike_or_a_minute_of_a_quick_probe() -> None:
    assert climb([7.4, 7.4, 7.6, 7.42, 7.4], interval=15 * MINUTE_MS).upset_at is None
    assert climb([7.4, 7.4, 7.6, 7.6, 7.4]).upset_at is None


def test_two_readings_an_hour_apart_are_no_jump() -> None:
    assert climb([7.4, 7.6, 7.6], interval=HOUR_MS).upset_at is None


def test_that_it_was_upset_outlives_a_fresh_start_and_a_restart() -> None:
    upset, again = climb(gently(7.4, 7.8, 40)), Climb()
    upset.forget()
    again.restore(upset.save())
    assert again.upset_at == upset.upset_at is not None


def test_a_probe_that_was_seen_to_or_calibrated_is_upset_by_nothing_of_before() -> None:
    slowly = 15 * MINUTE_MS
    upset = climb([7.4, 7.4, 7.6, 7.6], interval=slowly)
    assert upset.upset_at is not None
    upset.seen_to()
    for i in range(4, 8):  # half a unit more since the calibration
        at = T0 + i * slowly
        upset.push(Point(at, 8.1, at, 8.1), NIGHT, slowly)
    assert upset.upset_at is None
