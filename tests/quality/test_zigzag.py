from __future__ import annotations

import random
from itertools import pairwise
from math import cos, pi

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.quality.judge import Judge
from dawnline.quality.noise import Noise
from dawnline.quality.zigzag import Zigzag
from dawnline.reading import Reason, Sample

T0 = 1_780_000_000_000


def usually(trembling: float, grain: float = 0.01) -> Noise:
    """A probe that trembles so from reading to reading."""
    noise = Noise("ph")
    noise.days, noise.grain = [trembling], grain
    return noise


def pushed(zigzag: Zigzag, values: list[float], interval: int, begin: int = T0) -> list[bool]:
    return [zigzag.push(begin + i * interval, value, interval, usually(0.01)) for i, value in enumerate(values)]


@pytest.mark.parametrize(("interval", "beat"), [(10_000, 40), (60_000, 14), (300_000, 6)])
def test_a_slow_beat_is_seen_after_two_of_its_periods(interval: int, beat: int) -> None:
    """From reading to reading it looks smooth; no pond goes up and down so."""
    values = [7.4 + 0.25 * cos(2 * pi * i / beat) for i in range(200)]
    assert pushed(Zigzag("ph"), values, interval).index(True) <= 2.6 * beat


def test_an_ordinary_day_with_spikes_never_turns() -> None:
    dice = random.Random(1)
    values = [7.4 + 0.4 * cos(2 * pi * i / 1440) + dice.gauss(0, 0.02) for i in range(3 * 1440)]
    for i in range(300, len(values), 400):
        values[i] += 1.2
    zigzag = Zigzag("ph")
    assert not any(pushed(zigzag, values, MINUTE_MS))
    assert not zigzag.restless


def test_a_fall_and_what_comes_after_it_is_no_zigzag() -> None:
    zigzag = Zigzag("ph")
    assert not any(pushed(zigzag, [7.6] * 20 + [7.6 - 0.1 * i for i in range(20)] + [5.7] * 100, MINUTE_MS))
    assert not zigzag.restless


def test_what_is_usual_for_this_probe_and_its_count_are_no_turns() -> None:
    dice, zigzag = random.Random(2), Zigzag("ph")
    noisy = [zigzag.push(T0 + i * 300_000, 7.4 + dice.gauss(0, 0.15), 300_000, usually(0.15)) for i in range(500)]
    assert not any(noisy)
    counts = [
        zigzag.push(T0 + HOUR_MS * 90 + i * 60_000, 7.4 + 0.1 * (i % 3), 60_000, usually(0.0, 0.1)) for i in range(500)
    ]
    assert not any(counts)


def test_it_is_over_within_the_hour() -> None:
    zigzag = Zigzag("ph")
    pushed(zigzag, [7.4 + 0.3 * (i // 5 % 2) for i in range(60)], MINUTE_MS)
    assert zigzag.noisy
    assert not pushed(zigzag, [7.4] * 60, MINUTE_MS, begin=T0 + HOUR_MS)[-1]


def test_the_judge_calls_it_noisy_and_it_is_remembered_across_a_restart() -> None:
    judge, again = Judge("ph"), Judge("ph")
    for i in range(60):
        judge.push(Sample("ph", T0 + i * 60_000, 7.4 + 0.05 * (i % 11), T0 + i * 60_000))
    again.restore(judge.save())
    assert again.save() == judge.save()
    verdicts = [each.push(Sample("ph", T0 + 3_600_000, 7.4, T0 + 3_600_000)) for each in (judge, again)]
    assert verdicts[0] == verdicts[1]
    assert verdicts[0] is not None
    assert verdicts[0][1] is Reason.NOISY


def test_a_wide_beat_of_an_hour_is_seen_within_four_turns() -> None:
    values = [7.4 + 0.4 * cos(2 * pi * i / 31) for i in range(150)]
    assert pushed(Zigzag("ph"), values, 2 * MINUTE_MS).index(True) <= 2.6 * 31


def test_water_may_turn_three_times_by_half_a_unit_within_four_hours() -> None:
    """Lake Archer, Massachusetts, did so in June 2024, at the edge of a layered, bright surface."""
    hours = [7.4, 7.4, 8.0, 7.4, 8.0, 8.0, 8.0]
    values = [a + (b - a) * i / 4 for a, b in pairwise(hours) for i in range(4)]
    assert not any(pushed(Zigzag("ph"), values, 15 * MINUTE_MS))


def test_a_wide_beat_is_over_when_it_has_not_turned_for_a_while() -> None:
    zigzag, beat = Zigzag("ph"), [7.4 + 0.4 * cos(2 * pi * i / 31) for i in range(186)]
    assert pushed(zigzag, beat, 2 * MINUTE_MS)[-1]
    after = pushed(zigzag, [7.4] * 90, 2 * MINUTE_MS, begin=T0 + 186 * 2 * MINUTE_MS)
    assert not any(after[60:])


@pytest.mark.parametrize(("interval", "calm"), [(10_000, 181), (60_000, 31)])
def test_half_an_hour_and_thirty_readings_of_calm_end_it(interval: int, calm: int) -> None:
    """However lately it turned, within the hour or widely within four: the plug is dry, the bulb is in the water."""
    zigzag = Zigzag("ph")
    beat = [7.4 + 0.6 * cos(2 * pi * i / 10) for i in range(400)]
    assert pushed(zigzag, beat, interval)[-1]
    found = pushed(zigzag, [7.4 + 0.02 * (i % 3) for i in range(calm + 3)], interval, T0 + 400 * interval)
    assert found[:30] == [True] * 30
    assert not found[-1]
    assert not zigzag.restless
