from __future__ import annotations

import pytest

from dawnline.duration import MINUTE_MS
from dawnline.outlook.turn import Turn

GRAIN, HISS = 0.01, 0.01


def turn(values: list[float], interval: int = MINUTE_MS) -> Turn:
    made = Turn()
    for i, value in enumerate(values):
        made.push(1_780_000_000_000 + i * interval, value, interval)
    return made


def test_what_goes_one_way_falls_and_is_low() -> None:
    steady = turn([7.5 - 0.02 * i for i in range(60)])
    assert steady.falling(GRAIN, HISS)
    assert steady.low(GRAIN, HISS)


@pytest.mark.parametrize(("up", "falls", "low"), [(0.09, True, True), (0.2, False, True), (0.3, False, False)])
def test_what_has_come_up_falls_no_more_and_if_far_shows_no_low(up: float, falls: bool, low: bool) -> None:
    came = turn([7.0, 6.6, 6.3, 6.3 + up, 6.3 + up])
    assert came.falling(GRAIN, HISS) is falls
    assert came.low(GRAIN, HISS) is low


def test_a_rise_between_two_falls_counts_too() -> None:
    assert not turn([7.0, 6.6, 6.9, 6.5, 6.3]).falling(GRAIN, HISS)


def test_it_is_forgotten_within_a_quarter_of_an_hour_for_a_fall_and_half_an_hour_for_a_low() -> None:
    begin = [6.0, 6.4]
    after = turn(begin + [6.3 - 0.01 * i for i in range(16)])
    assert after.falling(GRAIN, HISS)
    assert not after.low(GRAIN, HISS)
    assert turn(begin + [6.3 - 0.01 * i for i in range(31)]).low(GRAIN, HISS)


def test_of_a_slow_probe_three_readings_count_for_a_fall_and_six_for_a_low() -> None:
    begin = [6.0, 6.4]
    quarter = 15 * MINUTE_MS
    after = turn([*begin, 6.3, 6.2, 6.1], quarter)
    assert after.falling(GRAIN, HISS)
    assert not after.low(GRAIN, HISS)
    assert turn([*begin, 6.3, 6.2, 6.1, 6.0, 6.0, 6.0], quarter).low(GRAIN, HISS)


def test_a_coarse_or_a_restless_probe_is_asked_for_more() -> None:
    came = turn([7.0, 6.6, 6.3, 6.43, 6.43])
    assert not came.falling(GRAIN, HISS)
    assert came.falling(0.1, HISS)
    assert came.falling(GRAIN, 0.04)


def test_it_is_kept_and_forgotten() -> None:
    came, again = turn([7.0, 6.3, 6.6]), Turn()
    again.restore(came.save())
    assert not again.low(GRAIN, HISS)
    again.forget()
    assert again.low(GRAIN, HISS)
