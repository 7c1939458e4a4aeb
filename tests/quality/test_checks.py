from __future__ import annotations

import random

import pytest

from dawnline.quality.judge import Judge
from dawnline.quality.settings import settled
from dawnline.quality.span import Span
from dawnline.quality.spike import Spike
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason, Sample

T0 = 1_780_000_000_000


@pytest.mark.parametrize(
    ("value", "flag"),
    [
        (1.99, Flag.FAIL), (2.0, Flag.SUSPECT), (2.99, Flag.SUSPECT), (3.0, Flag.GOOD), (7.0, Flag.GOOD),
        (11.0, Flag.GOOD), (11.01, Flag.SUSPECT), (12.0, Flag.SUSPECT), (12.01, Flag.FAIL), (-9999.0, Flag.FAIL),
    ],
)  # fmt: skip
def test_gross_range_limits_themselves_pass(value: float, flag: Flag) -> None:
    """QARTOD test 4; a value on a limit passes, as in ioos_qc 3.0.0 `gross_range_test`."""
    assert Span(QUANTITIES["ph"]).push(value)[0] is flag


def test_the_span_of_the_instrument_can_be_configured() -> None:
    span = Span(QUANTITIES["ph"], (5.0, 9.0))
    assert span.push(4.9)[0] is Flag.FAIL
    assert span.push(9.0)[0] is Flag.GOOD


def spike_flags(values: list[float], step_ms: int = 10_000, quantity: str = "ph") -> list[Flag]:
    to = settled(quantity).spike
    spike = Spike(to.threshold, to.per_minute)
    return [spike.push(T0 + i * step_ms, value)[0] for i, value in enumerate(values)]


def test_a_spike_is_suspect_and_its_neighbours_are_not() -> None:
    flags = spike_flags([7.8, 7.8, 7.8, 9.0, 7.8, 7.8])
    assert flags[1:] == [Flag.GOOD, Flag.GOOD, Flag.SUSPECT, Flag.GOOD, Flag.GOOD]


def test_the_first_value_cannot_be_judged() -> None:
    assert spike_flags([7.8]) == [Flag.NOT_EVALUATED]


def test_two_wild_values_in_a_row_are_both_suspect() -> None:
    assert spike_flags([7.8, 7.8, 2.5, 11.5, 7.8])[2:] == [Flag.SUSPECT, Flag.SUSPECT, Flag.GOOD]


def test_a_step_is_believed_at_its_third_value_and_remembered() -> None:
    spike = Spike(0.3, 0.03)
    flags = [spike.push(T0 + i * 10_000, v)[0] for i, v in enumerate([7.8, 7.8, 7.8, 6.8, 6.8, 6.8, 6.8])]
    assert flags[3:] == [Flag.SUSPECT, Flag.SUSPECT, Flag.GOOD, Flag.GOOD]


def test_a_move_as_large_between_readings_a_quarter_hour_apart_is_water() -> None:
    spike = Spike(0.3, 0.03)
    flags = [spike.push(T0 + i * 900_000, v)[0] for i, v in enumerate([7.8, 7.8, 7.2, 6.8, 6.4])]
    assert flags[1:] == [Flag.GOOD] * 4


def test_noise_and_a_steep_fall_pass() -> None:
    dice = random.Random(3)
    fall = [7.5 - 0.001 * i + dice.gauss(0, 0.02) for i in range(600)]  # 0.36 pH in an hour
    assert set(spike_flags(fall)[1:]) == {Flag.GOOD}


def test_after_a_long_gap_there_is_no_neighbour() -> None:
    spike = Spike(0.3, 0.03)
    spike.push(T0, 7.8)
    assert spike.push(T0 + 3_600_000, 6.5) == (Flag.NOT_EVALUATED, Reason.NONE)


def test_rain_has_no_spikes() -> None:
    judge = Judge("rain")
    verdicts = [judge.push(Sample("rain", T0 + i, v, T0 + i)) for i, v in enumerate([0.0, 0.0, 40.0, 0.0])]
    assert verdicts == [(Flag.GOOD, Reason.NONE)] * 4


def test_the_judge_rolls_up_as_qartod_does() -> None:
    judge = Judge("ph")

    def push(i: int, value: float) -> tuple[Flag, Reason] | None:
        return judge.push(Sample("ph", T0 + i * 10_000, value, T0 + i * 10_000))

    assert push(0, 7.8) == (Flag.GOOD, Reason.NONE)  # the span can judge it, the spike check cannot
    assert push(1, 13.0) == (Flag.FAIL, Reason.OUT_OF_SPAN)
    assert push(2, 9.5) == (Flag.SUSPECT, Reason.SPIKE)
    assert push(3, 2.9) == (Flag.SUSPECT, Reason.UNUSUAL)
    assert push(4, 7.8) == (Flag.GOOD, Reason.NONE)
    assert push(4, 7.8) is None


def test_at_a_quarter_hour_a_spike_is_suspect_and_water_is_not() -> None:
    wild = spike_flags([7.8, 7.8, 5.5, 7.8, 7.8], 900_000)
    assert wild[1:] == [Flag.GOOD, Flag.SUSPECT, Flag.GOOD, Flag.GOOD]
    assert spike_flags([7.8, 7.8, 7.2, 7.8], 900_000)[1:] == [Flag.GOOD] * 3


@pytest.mark.parametrize("away", [0.29, -0.29])
def test_within_the_threshold_a_move_is_no_spike(away: float) -> None:
    assert spike_flags([7.8, 7.8, 7.8 + away, 7.8])[1:] == [Flag.GOOD] * 3


def test_three_wild_values_that_disagree_bear_each_other_out_in_nothing() -> None:
    spike = Spike(0.3, 0.03)
    flags = [spike.push(T0 + i * 10_000, v)[0] for i, v in enumerate([7.8, 7.8, 6.0, 9.5, 6.0, 9.5, 6.0, 7.8])]
    assert flags[2:] == [Flag.SUSPECT] * 5 + [Flag.GOOD]


def test_after_maintenance_there_is_neither_neighbour_nor_step() -> None:
    spike = Spike(0.3, 0.03)
    for i, value in enumerate([7.8, 7.8, 6.8, 6.8, 6.8]):
        spike.push(T0 + i * 10_000, value)
    spike.forget()
    assert spike.push(T0 + 60_000, 9.0)[0] is Flag.NOT_EVALUATED


def test_a_paused_sample_is_kept_in_order_and_judged_by_nothing() -> None:
    judge = Judge("ph")

    def paused(at: int, value: float) -> tuple[Flag, Reason] | None:
        return judge.pause(Sample("ph", at, value, at))

    assert paused(T0, 99.0) == (Flag.NOT_EVALUATED, Reason.MAINTENANCE)
    assert paused(T0, 99.0) is None
    assert paused(T0, 98.0) == (Flag.SUSPECT, Reason.REPEATED_TIME)
    assert paused(T0 - 1, 7.0) == (Flag.SUSPECT, Reason.OUT_OF_ORDER)
    assert judge.push(Sample("ph", T0 + 1, 4.5, T0 + 1)) == (Flag.GOOD, Reason.NONE)


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_can_be_judged(quantity: str) -> None:
    low, high = QUANTITIES[quantity].usual
    verdicts = [Judge(quantity).push(Sample("x", T0, value, T0)) for value in (low, (low + high) / 2, high)]
    assert verdicts == [(Flag.GOOD, Reason.NONE)] * 3
