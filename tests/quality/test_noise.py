from __future__ import annotations

import random

import pytest

from dawnline.duration import DAY_MS, MINUTE_MS
from dawnline.quality.judge import Judge
from dawnline.quality.noise import Noise
from dawnline.reading import Sample

T0 = 1_780_000_000_000
DAY = 8640  # readings of a day at 10 s


def series(readings: int, sd: float, *, grain: float = 0.01, seed: int = 1) -> list[float]:
    dice = random.Random(seed)
    return [round(round((7.3 + dice.gauss(0, sd)) / grain) * grain, 4) for _ in range(readings)]


def pushed(noise: Noise, values: list[float], interval: int = 10_000, begin: int = T0) -> list[bool]:
    return [noise.push(begin + i * interval, value, interval) for i, value in enumerate(values)]


@pytest.mark.parametrize(("sd", "grain"), [(0.0, 0.01), (0.01, 0.01), (0.02, 0.01), (0.02, 0.1), (0.03, 0.1)])
def test_a_healthy_probe_is_not_noisy(sd: float, grain: float) -> None:
    assert not any(pushed(Noise("ph"), series(2 * DAY, sd, grain=grain)))


@pytest.mark.parametrize("minutes_before_midnight", [0, 5, 60, 120])
def test_a_healthy_probe_is_not_noisy_in_its_first_hours(minutes_before_midnight: int) -> None:
    begin = -(-T0 // DAY_MS) * DAY_MS - minutes_before_midnight * MINUTE_MS
    for seed in range(20):
        assert not any(pushed(Noise("ph"), series(360, 0.025, seed=seed), MINUTE_MS, begin=begin))


@pytest.mark.parametrize("sd", [0.2, 0.5])
def test_one_that_trembles_from_its_first_reading_on_is_noisy_for_it(sd: float) -> None:
    loud = pushed(Noise("ph"), series(360, sd), MINUTE_MS)
    assert loud.index(True) <= 60
    assert sum(loud[60:]) > 0.95 * len(loud[60:])


@pytest.mark.parametrize("sd", [0.08, 0.2, 1.0])
def test_trembling_is_seen_within_five_minutes_and_over_when_it_ends(sd: float) -> None:
    noise = Noise("ph")
    assert not any(pushed(noise, series(DAY, 0.01)))
    loud = pushed(noise, series(360, sd, seed=2), begin=T0 + DAY_MS)
    assert loud.index(True) <= 30
    assert sum(loud[30:]) > 0.95 * len(loud[30:])
    assert not any(pushed(noise, series(360, 0.01, seed=3), begin=T0 + DAY_MS + 3_600_000)[20:])


def test_a_few_spikes_are_not_noise() -> None:
    values = series(600, 0.01)
    for i in (300, 304, 309):
        values[i] += 1.5
    assert not any(pushed(Noise("ph"), values))


def test_a_steady_fall_is_not_noise_however_steep() -> None:
    assert not any(pushed(Noise("ph"), [8.0 - 0.05 * i for i in range(60)]))


def test_what_is_usual_for_this_probe_counts() -> None:
    """A probe that always trembled by 0.05 is not accused of it once its days are known."""
    noise = Noise("ph")
    for day in range(3):
        pushed(noise, series(DAY, 0.04, seed=day), begin=T0 + day * DAY_MS)
    assert sum(pushed(noise, series(DAY, 0.04, seed=9), begin=T0 + 3 * DAY_MS)) == 0


def test_a_slow_probe_in_a_layered_lake_may_tremble() -> None:
    assert not any(pushed(Noise("ph"), series(500, 0.08), 15 * MINUTE_MS))


def test_it_remembers_across_a_restart() -> None:
    values = series(400, 0.01) + series(100, 0.1, seed=5)
    whole, first, second = Noise("ph"), Noise("ph"), Noise("ph")
    expected = pushed(whole, values)
    found = pushed(first, values[:415])
    second.restore(first.save())
    assert found + pushed(second, values[415:], begin=T0 + 415 * 10_000) == expected


def test_a_slow_probe_whose_days_were_calm_is_held_to_them() -> None:
    calm, restless = Noise("ph"), Noise("ph")
    for day in range(4):
        pushed(calm, series(288, 0.01, seed=day), 5 * MINUTE_MS, begin=T0 + day * DAY_MS)
        pushed(restless, series(288, 0.06, seed=day), 5 * MINUTE_MS, begin=T0 + day * DAY_MS)
    loud = series(60, 0.3, seed=9)
    assert any(pushed(calm, loud, 5 * MINUTE_MS, begin=T0 + 6 * DAY_MS))
    assert not any(pushed(restless, series(60, 0.2, seed=9), 5 * MINUTE_MS, begin=T0 + 6 * DAY_MS))


def test_a_slow_probe_that_walks_after_a_step_is_noisy_sooner_and_until_it_rests() -> None:
    calm, dice = series(6 * 96, 0.01), random.Random(3)
    walk = [6.2 + 0.12 * dice.choice((-1, 1)) for _ in range(24)]
    for watched in (False, True):
        noise = Noise("ph")
        pushed(noise, calm, 15 * MINUTE_MS)
        found = [
            noise.push(T0 + (len(calm) + i) * 15 * MINUTE_MS, value, 15 * MINUTE_MS, watched=watched and i < 8)
            for i, value in enumerate(walk)
        ]
        assert any(found[:6]) is watched
        assert all(found[8:])


def test_it_is_restless_before_it_is_noisy_and_not_by_one_spike() -> None:
    noise = Noise("ph")
    pushed(noise, series(6 * 288, 0.01), 5 * MINUTE_MS)
    spiked = [
        noise.push(T0 + DAY_MS * 6 + i * 5 * MINUTE_MS, v, 5 * MINUTE_MS) or noise.restless()
        for i, v in enumerate([7.3, 7.3, 8.1, 7.3, 7.3, 7.3])
    ]
    assert not any(spiked)
    states = []
    for i, value in enumerate([6.7, 6.4, 6.8, 6.4, 5.9, 6.3]):
        noisy = noise.push(T0 + DAY_MS * 7 + i * 5 * MINUTE_MS, value, 5 * MINUTE_MS)
        states.append((noise.restless(), noisy))
    assert (True, False) in states


def test_two_spikes_of_a_slow_probe_within_twelve_readings_are_not_noise() -> None:
    noise = Noise("ph")
    pushed(noise, series(6 * 96, 0.01), 15 * MINUTE_MS)
    values = [7.3, 8.1, 7.31, 7.3, 7.29, 6.5, 8.1, 7.31, 7.3, 7.3, 7.3, 7.3]
    assert not any(pushed(noise, values, 15 * MINUTE_MS, begin=T0 + 6 * DAY_MS))


def test_three_spikes_of_a_slow_probe_one_after_each_other_are_noise_where_nothing_is_calm_between_them() -> None:
    """What lies between two spikes must itself be calm, or it is one trembling series."""
    apart, together = Noise("ph"), Noise("ph")
    for noise in (apart, together):
        pushed(noise, series(6 * 288, 0.01), 5 * MINUTE_MS)
    begin = T0 + 6 * DAY_MS
    calm = [7.3, 6.8, 7.3, 7.29, 6.2, 7.3, 7.3, 7.3, 7.3, 7.3, 6.1, 7.3]
    assert not any(pushed(apart, calm, 5 * MINUTE_MS, begin=begin))
    assert any(pushed(together, [7.3, 7.9, 7.25, 6.0, 7.3, 7.3, 7.1, 7.9, 6.9], 5 * MINUTE_MS, begin=begin))


def test_a_last_digit_that_turns_over_hides_no_noise() -> None:
    """Whole tenths at the edge of two counts for days; then readings that go by two and three of them."""
    noise, dice = Noise("ph"), random.Random(4)
    for day in range(6):
        flickers = [7.6 + 0.1 * (dice.random() < 0.15) for _ in range(288)]
        assert not any(pushed(noise, [round(v, 1) for v in flickers], 5 * MINUTE_MS, begin=T0 + day * DAY_MS))
    assert 0.02 < max(noise.days) < 0.05
    loud = [7.5, 8.0, 7.5, 7.4, 7.3, 7.6, 7.7, 7.6, 7.8, 7.4, 7.7, 7.5]
    assert any(pushed(noise, loud, 5 * MINUTE_MS, begin=T0 + 6 * DAY_MS))


@pytest.mark.parametrize(
    ("sd", "leapt", "sooner"), [(0.01, 0.0, False), (0.01, 1.3, True), (0.01, -1.3, True), (0.08, 1.3, False)]
)
def test_a_slow_probe_that_walks_after_a_leap_is_noisy_sooner_where_its_days_were_calm(
    sd: float, leapt: float, sooner: bool
) -> None:
    noise = Noise("ph")
    pushed(noise, series(6 * 288, sd), 5 * MINUTE_MS)
    walk, begin = [8.8, 8.9, 8.75, 8.85, 8.8, 8.95, 8.8, 8.85, 8.7, 8.75], T0 + 7 * DAY_MS
    found = [noise.push(begin + i * 5 * MINUTE_MS, v, 5 * MINUTE_MS, leapt=leapt) for i, v in enumerate(walk)]
    assert any(found[:7]) is sooner


def test_a_dose_of_acid_goes_one_way_however_unevenly() -> None:
    """1.2 meq/L poured in over 18 minutes, read each two: steep, less steep, then the buffer is gone."""
    noise = Noise("ph")
    pushed(noise, series(6 * 720, 0.015), 2 * MINUTE_MS)
    fall = [7.52, 7.03, 6.74, 6.53, 6.31, 6.08, 5.82, 5.38, 4.34, 3.82, 3.82, 3.85, 3.88, 3.88, 3.9]
    begin = T0 + 7 * DAY_MS
    assert not any(noise.push(begin + i * 2 * MINUTE_MS, v, 2 * MINUTE_MS, leapt=-0.9) for i, v in enumerate(fall))


def test_of_who_has_leapt_more_calm_is_asked() -> None:
    noise = Noise("ph")
    for large in (1, 1, 1):
        noise.large.append(large)
    assert (noise.restless(), noise.restless(leapt=True)) == (False, True)
    judge, at, dice = Judge("ph"), T0, random.Random(1)
    calm = [round(dice.gauss(7.6, 0.015), 2) for _ in range(8 * 96)]
    restless = []
    for value in [*calm, 6.81, 6.54, 6.45, 6.37, 6.41, 6.21, 6.36, 5.81]:  # a bulb in the air
        at += 15 * MINUTE_MS
        judge.push(Sample("ph", at, value, at))
        restless.append(judge.restless(at))
    assert restless[-1]
    assert not any(restless[: len(calm)])
