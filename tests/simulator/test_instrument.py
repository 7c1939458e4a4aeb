"""What the probes add to the truth, and how they and the wire go wrong."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import exp
from random import Random
from statistics import pstdev
from zoneinfo import ZoneInfo

import pytest

from dawnline_simulator import faults
from dawnline_simulator.faults import Air, Drift, OutOfWater, WireBreaks
from dawnline_simulator.happenings import HOUR_MS, moment
from dawnline_simulator.probes import PH_PROBE, Probe, ProbeParameters

UTC = ZoneInfo("UTC")
CLEAN = ProbeParameters(noise=0.0, wander_per_root_day=0.0, spikes_per_day=0.0, resolution=1e-9)


def readings(parameters: ProbeParameters, count: int, seconds: float = 10.0, seed: int = 1) -> list[float]:
    probe = Probe(parameters, Random(seed))
    return [probe.read(7.0, seconds) for _ in range(count)]


def test_white_noise_has_its_width_and_values_their_resolution():
    values = readings(replace(PH_PROBE, wander_per_root_day=0.0, spikes_per_day=0.0), 5000)
    # 0.01 of noise and the rounding to 0.01, whose own width is 0.0029
    assert pstdev(values) == pytest.approx((0.01**2 + 0.0029**2) ** 0.5, rel=0.05)
    assert all(abs(value * 100 - round(value * 100)) < 1e-6 for value in values)


def test_a_step_is_followed_with_the_lag():
    probe = Probe(CLEAN, Random(1))
    probe.read(7.0, 10.0)
    for n in range(1, 10):
        assert probe.read(8.0, 10.0) == pytest.approx(8.0 - exp(-n * 10.0 / 30.0), abs=1e-6)


def test_wander_grows_with_the_root_of_time():
    ends = [readings(replace(CLEAN, wander_per_root_day=0.02), 96, 3600.0, seed)[-1] - 7.0 for seed in range(300)]
    assert pstdev(ends) == pytest.approx(0.04, rel=0.15)  # four days: 0.02 x 2


def test_spikes_come_as_often_as_they_should_and_last_one_reading():
    values = readings(replace(CLEAN, spikes_per_day=20.0, spike_size=1.0), 8640 * 5)
    spikes = [n for n, value in enumerate(values) if abs(value - 7.0) > 0.02]
    assert 70 <= len(spikes) <= 130
    assert values[-1] == pytest.approx(7.0)


def dated(*what):
    return tuple(faults.date(fault, 0, UTC) for fault in what)


def test_drift_grows_stops_and_stays():
    drift = dated(Drift(2, "00:00", 48.0, -0.1))
    day = 24 * HOUR_MS
    assert [faults.drift_at(drift, day * n) for n in range(6)] == pytest.approx([0, 0, -0.1, -0.2, -0.2, -0.2])


def test_faults_have_a_begin_and_an_end():
    story = dated(OutOfWater(1, "10:00", 1.0), WireBreaks(1, "12:00", 0.5, "silent"))
    hour = HOUR_MS
    assert [faults.out_of_water(story, at) for at in (10 * hour - 1, 10 * hour, 11 * hour - 1, 11 * hour)] == [
        False,
        True,
        True,
        False,
    ]
    assert [faults.line_at(story, at) for at in (12 * hour - 1, 12 * hour, 12 * hour + hour // 2)] == [
        "whole",
        "silent",
        "whole",
    ]


def test_air_jumps_at_once_and_walks_raggedly():
    air = Air(Random(3))
    values = [air.ph(7.4) for _ in range(50)]
    assert abs(values[0] - 7.4) > 0.4
    assert pstdev(b - a for a, b in pairwise(values)) == pytest.approx(0.08, rel=0.4)
    air.back()
    assert abs(air.ph(7.4) - 7.4) > 0.4


def test_wall_clock_moments_follow_the_change_of_the_clock():
    berlin = ZoneInfo("Europe/Berlin")
    midnight = 1_774_652_400_000  # 2026-03-28T00:00+01:00, the day before summer time
    assert moment(midnight, berlin, 2, "01:00") - midnight == 25 * HOUR_MS
    assert moment(midnight, berlin, 2, "06:00") - midnight == 29 * HOUR_MS
