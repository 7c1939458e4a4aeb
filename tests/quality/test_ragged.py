"""A slow probe that comes up from one reading to the next, as acid does not, and one that lies still again."""

from __future__ import annotations

import random

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.quality.judge import Judge
from dawnline.quality.noise import Noise
from dawnline.quality.ragged import Ragged
from dawnline.reading import Reason, Sample

T0 = 1_780_000_000_000
FIVE = 5 * MINUTE_MS


def usually(trembling: float, grain: float = 0.01) -> Noise:
    """A probe that trembles so from reading to reading."""
    noise = Noise("ph")
    noise.days, noise.grain = [trembling], grain
    return noise


def pushed(values: list[float], interval: int = FIVE, *, noise: Noise | None = None, leap: float = 0.0) -> Ragged:
    ragged = Ragged("ph")
    for i, value in enumerate(values):
        ragged.push(T0 + i * interval, value, interval, noise or usually(0.01), leap)
    return ragged


def is_ragged(values: list[float], interval: int = FIVE, leap: float = 0.0) -> bool:
    return pushed(values, interval, leap=leap).is_ragged(T0 + (len(values) - 1) * interval, interval)


ACID = [7.6, 7.61, 7.6, 6.4, 6.1, 6.0, 5.98]
AIR = [7.6, 7.61, 7.6, 6.4, 6.1, 6.25, 6.2]


def test_what_goes_down_one_way_is_not_ragged_and_what_comes_up_is() -> None:
    assert not is_ragged(ACID, leap=-1.6)
    assert is_ragged(AIR, leap=-1.4)


def test_a_film_that_rises_before_the_fall_counts() -> None:
    assert is_ragged([7.6, 7.7, 7.8, 6.3, 6.2, 6.1], leap=-1.5)


def test_water_far_down_comes_up_by_a_share_of_its_leap() -> None:
    overdosed = [8.58, 8.58, 3.02, 3.16, 3.28, 3.4]
    assert not is_ragged(overdosed, 3 * FIVE, leap=-5.5)
    assert is_ragged(overdosed, 3 * FIVE, leap=-1.5)


@pytest.mark.parametrize(
    ("noise", "ragged"), [(usually(0.01), True), (usually(0.05), False), (usually(0.01, 0.2), False)]
)
def test_how_it_trembles_in_health_and_its_count_are_no_rise(noise: Noise, ragged: bool) -> None:
    assert pushed(AIR, noise=noise).is_ragged(T0 + 6 * FIVE, FIVE) is ragged


def test_once_it_lies_still_it_is_ragged_no_more_and_one_odd_reading_is_no_end_of_that() -> None:
    still = [*AIR, 6.21, 6.19, 7.3, 6.2, 6.22]
    assert is_ragged(still[:-3])
    assert not is_ragged(still)
    assert pushed(still).settled
    assert not pushed(still).long_settled()
    longer = pushed([*still, *[6.2, 6.21] * 4])
    assert longer.long_settled()
    assert not longer.long_settled(since=T0 + 8 * FIVE)


def test_of_tenths_more_readings_are_asked() -> None:
    values = [7.6, 6.0, *[6.2] * 7]
    assert pushed(values).settled
    assert not pushed(values, noise=usually(0.0, 0.1)).settled
    assert pushed([*values, 6.2], noise=usually(0.0, 0.1)).settled


def test_after_an_hour_or_twelve_readings_a_rise_counts_no_more() -> None:
    ragged = pushed([7.6, 7.8])
    assert ragged.is_ragged(T0 + FIVE + HOUR_MS, FIVE)
    assert not ragged.is_ragged(T0 + FIVE + HOUR_MS + 1, FIVE)
    assert ragged.is_ragged(T0 + FIVE + 3 * HOUR_MS, 3 * FIVE)


def test_across_a_silence_nothing_is_compared() -> None:
    ragged = pushed([7.6])
    ragged.push(T0 + HOUR_MS, 7.9, FIVE, usually(0.01), 0.0)
    assert not ragged.is_ragged(T0 + HOUR_MS, FIVE)


def test_a_probe_that_speaks_each_minute_is_left_to_others() -> None:
    assert not pushed([7.6, 7.0, 7.6] * 9, MINUTE_MS).noisy


def test_up_and_down_thrice_is_noise_and_spikes_are_not() -> None:
    assert pushed([7.6, 7.2, 7.5, 7.1, 7.3, 6.9, 7.4]).noisy
    assert not pushed([7.6, 8.9, 7.6, 7.6, 6.4, 7.6, 7.6, 8.3, 7.61, 6.9, 7.6]).noisy
    assert not pushed([7.6, 7.2, 7.5, 7.1, 7.3, 6.9, 7.4], noise=usually(0.08)).noisy


def test_the_judge_names_a_walk_noisy_and_never_an_ordinary_day() -> None:
    dice, judge = random.Random(5), Judge("ph", interval=FIVE)
    week = [7.5 + 0.01 * dice.gauss(0, 1) for _ in range(5 * 288)]
    reasons = [said(judge, i, value) for i, value in enumerate(week)]
    assert Reason.NOISY not in reasons
    value, found = 6.4, []
    for i in range(24):
        value += dice.gauss(0.0, 0.24)
        found.append(said(judge, len(week) + i, value))
    assert Reason.NOISY in found[:12]


def said(judge: Judge, number: int, value: float) -> Reason:
    verdict = judge.push(Sample("ph", T0 + number * FIVE, round(value, 2), T0 + number * FIVE))
    assert verdict is not None
    return verdict[1]


@pytest.mark.parametrize(("trembles", "named"), [(0.01, True), (0.06, False)])
def test_who_came_up_after_a_leap_is_named_by_what_its_own_days_were_like(trembles: float, named: bool) -> None:
    """At the edge of a layered lake water comes and goes, too."""
    dice, judge = random.Random(6), Judge("ph", interval=FIVE)
    week = [7.5 + trembles * dice.gauss(0, 1) for _ in range(5 * 288)]
    for i, value in enumerate([*week, 6.2, 6.2, 6.2, 6.5, 6.45]):
        said(judge, i, value)
    assert judge.came_up(T0 + (len(week) + 4) * FIVE) is named
