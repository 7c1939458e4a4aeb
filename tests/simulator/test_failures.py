"""Each failure shows what its instrument would, and nothing of what it cannot know."""

from __future__ import annotations

from itertools import pairwise
from math import cos, pi
from random import Random
from statistics import fmean, pstdev

import pytest

from dawnline_simulator.failures.circuit import Noisy, Stepped
from dawnline_simulator.failures.electronics import Floating, Frozen, Shorted, Silent, Stuck, rail_ph
from dawnline_simulator.failures.failure import Failure, to_count
from dawnline_simulator.failures.glass import Coated, Cracked, Dried

MINUTES_A_DAY = 1440


def pond(minute: int) -> float:
    """A pond that swings by 0.6 a day."""
    return 7.5 + 0.3 * cos(2 * pi * minute / MINUTES_A_DAY)


def day(failure: Failure, minutes: int = MINUTES_A_DAY) -> list[float]:
    """A day of readings each minute; a healthy instrument would show the truth to the hundredth."""
    shown = [failure.show(60.0, pond(m), to_count(pond(m), 0.01)) for m in range(minutes)]
    return [value for value in shown if value is not None]


def test_a_frozen_converter_repeats_its_last_value_to_the_last_digit() -> None:
    assert set(day(Frozen(0.01, Random(1)))) == {7.8}


def test_dither_moves_the_last_digit_by_one_count_and_no_more() -> None:
    values = day(Frozen(0.02, Random(1), dither=0.3))
    assert set(values) == {7.78, 7.8, 7.82}
    assert values.count(7.8) / len(values) == pytest.approx(0.7, abs=0.05)


@pytest.mark.parametrize(("millivolts", "ph"), [(0.0, 7.0), (2047.0, -27.6), (-2047.0, 41.6), (177.48, 4.0)])
def test_a_saturated_input_is_carried_through_the_slope(millivolts: float, ph: float) -> None:
    assert rail_ph(millivolts) == ph
    assert set(day(Stuck(ph))) == {ph}


def test_a_dead_wire_says_nothing() -> None:
    assert day(Silent()) == []


def test_an_open_input_walks_and_hums_within_the_scale() -> None:
    values = day(Floating(0.01, Random(2)))
    assert all(0.0 <= value <= 14.0 for value in values)
    assert pstdev(b - a for a, b in pairwise(values)) > 0.3  # no water does that
    assert 5.0 < fmean(values) < 9.0


def test_a_short_reads_seven_give_or_take_a_count() -> None:
    values = day(Shorted(0.01, Random(3)))
    assert set(values) == {6.99, 7.0, 7.01}


def test_a_step_comes_at_once_and_the_water_is_followed_on() -> None:
    values = day(Stepped(0.01, -0.8))
    assert [round(value + 0.8, 2) for value in values] == [to_count(pond(m), 0.01) for m in range(MINUTES_A_DAY)]


def test_noise_has_its_size_and_the_water_within() -> None:
    errors = [value - pond(m) for m, value in enumerate(day(Noisy(0.01, Random(4), 0.3)))]
    assert pstdev(errors) == pytest.approx(0.3, rel=0.1)
    assert abs(fmean(errors)) < 0.03


def test_the_mains_appear_as_a_slow_beat_of_the_same_size() -> None:
    errors = [value - pond(m) for m, value in enumerate(day(Noisy(0.01, Random(4), 0.3, beat_s=1200.0)))]
    assert pstdev(errors) == pytest.approx(0.3, rel=0.1)
    turned = [a * b < 0 for a, b in pairwise(errors)]
    assert sum(turned) == pytest.approx(2 * MINUTES_A_DAY / 20, rel=0.2)  # two zero crossings a beat


def test_a_coated_bulb_lags_by_hours_and_loses_swing() -> None:
    values = day(Coated(0.01, Random(5), 6 * 3600.0, 3600.0, noise=0.01), 4 * MINUTES_A_DAY)[-MINUTES_A_DAY:]
    lag = 2 * pi * 6 / 24  # a first-order lag: amplitude 1/sqrt(1 + (w tau)^2)
    assert max(values) - min(values) == pytest.approx(0.6 / (1 + lag**2) ** 0.5, abs=0.08)
    lowest = values.index(min(values))
    assert 720 + 120 < lowest < 720 + 360  # at noon of this pond's day, hours late


def test_a_cracked_bulb_goes_to_seven_within_minutes_and_follows_nothing() -> None:
    values = day(Cracked(0.01, Random(6), rest=0.1))
    assert abs(values[0] - 7.1) > 0.3
    assert all(abs(value - 7.1) < 0.03 for value in values[20:])


def test_a_bulb_dries_at_once_or_through_a_film() -> None:
    at_once, film = day(Dried(0.01, Random(7)), 60), day(Dried(0.01, Random(7), film_s=1200.0), 60)
    assert abs(at_once[0] - 7.8) > 0.5
    assert all(abs(b - a) < 0.1 for a, b in pairwise(film[:19]))
    assert max(abs(b - a) for a, b in pairwise(film)) > 0.5
    assert film[18] > pond(18) + 0.25


def test_the_same_seed_fails_the_same_way() -> None:
    for make in (Floating, Shorted):
        assert day(make(0.01, Random(8))) == day(make(0.01, Random(8))) != day(make(0.01, Random(9)))
