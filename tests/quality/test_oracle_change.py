"""Checks of what happens from one reading to the next, rate and spike, beside ioos_qc."""

from __future__ import annotations

import math
import random
from typing import Any

import pytest

from dawnline.quality.rate import Rate
from dawnline.quality.spike import Spike
from dawnline.reading import Flag, Reason

from .oracle import (
    EVERY,
    STEP_S,
    VECTORS,
    Oracle,
    good_before,
    measured,
    regular,
    seconds,
    spread,
    streamed,
    vectors,
)

# ------------------------------------------------------------ rate of change


@vectors("rate")
def test_rate_of_the_reference(vector: dict[str, Any]) -> None:
    """The float trap included: we compute as ioos_qc does, so a change at the limit falls as the doubles fall."""
    per = vector["per_s"]
    rate = Rate(vector["suspect"] / per, vector["fail"] / per if "fail" in vector else None)
    found = streamed(rate.push, seconds(vector), vector["values"])
    assert found == [2, *vector["flags"][1:]]


@EVERY
def test_rate(oracle: Oracle, t: list[int], v: list[float]) -> None:
    suspect, fail = 0.0157 / STEP_S, 0.3 / STEP_S
    ours = streamed(Rate(suspect, fail).push, t, v)
    # After a missing value ioos_qc passes whatever comes; we compare with the last value, by the time between.
    theirs = oracle.rate(*measured(t, v), suspect, fail)
    assert ours == spread(good_before(theirs, lambda i: i == 0), v)
    plain = oracle.rate(t, v, suspect, fail)
    differ = [i for i in range(1, len(v)) if ours[i] != plain[i]]
    assert all(math.isnan(v[i - 1]) and plain[i] == 1 for i in differ)


def test_rate_counts_milliseconds_where_ioos_qc_cuts_to_whole_seconds() -> None:
    rate = Rate(0.5)
    assert [int(rate.push(at, x)[0]) for at, x in ((0, 7.0), (1_500, 7.7))] == [2, 1]  # 0.47 a second, there 0.7


def test_rate_a_small_change_is_noise_however_fast() -> None:
    rate = Rate(1.0 / 60, least=0.2)
    pushed = [rate.push(at, x) for at, x in ((0, 7.0), (1000, 7.19), (2000, 7.4))]
    assert [int(verdict[0]) for verdict in pushed[:2]] == [2, 1]
    assert pushed[2] == (Flag.SUSPECT, Reason.TOO_FAST)


# ------------------------------------------------------------ spike, made causal


def spikes(v: list[float], suspect: float = 0.3) -> list[int]:
    return streamed(Spike(suspect, 0.0).push, regular(len(v), 10), v)


@pytest.mark.parametrize("seed", range(12))
def test_spike_flags_what_the_differential_method_flags(oracle: Oracle, seed: int) -> None:
    """Single spikes on a calm line. The ends differ: ours judges the last point (it needs no later one)."""
    dice = random.Random(seed)
    v = [round(7.8 + dice.gauss(0, 0.02), 2) for _ in range(400)]
    struck = [i for i in range(10, 390, 10) if dice.random() < 0.5]
    for i in struck:
        v[i] += dice.choice((-1, 1)) * dice.uniform(0.5, 3)
    ours = spikes(v)
    assert ours[:-1] == oracle.spike(v, 0.3, None, "differential")[:-1]
    assert [i for i, flag in enumerate(ours) if flag == 3] == struck
    # The manual's own method condemns the innocent neighbours of a spike of more than twice the threshold.
    average = oracle.spike(v, 0.3, None, "average")
    assert all(average[i - 1] == average[i + 1] == 3 for i in struck if abs(v[i] - 7.8) > 0.75)
    assert [i for i in range(400) if average[i] == 3 and i not in struck]


def test_spike_a_step_is_suspect_until_it_is_borne_out(oracle: Oracle) -> None:
    """A causal check cannot know a step from a spike; two readings later it does."""
    v = [7.8, 7.8, 7.8, 8.8, 8.8, 8.8, 8.8]
    assert oracle.spike(v, 0.3, None, "differential") == [2, 1, 1, 1, 1, 1, 2]
    assert oracle.spike(v, 0.3, None, "average") == [2, 1, 3, 3, 1, 1, 2]
    assert spikes(v) == [2, 1, 1, 3, 3, 1, 1]


@pytest.mark.parametrize("vector", [v for v in VECTORS["spike"] if v["method"] == "differential"])
def test_spike_of_the_reference(vector: dict[str, Any]) -> None:
    """Ours has no `fail`, compares across a missing value, judges the last point, waits for a step to be borne out."""
    found = spikes(vector["values"], vector["suspect"])
    expected = {13: [2, 1, 3, 1, 1, 3, 1, 1, 9, 1, 1, 1, 1], 5: [2, 1, 3, 3, 1]}[len(found)]
    assert found == expected
    differ = [(theirs, ours) for theirs, ours in zip(vector["flags"], expected, strict=True) if theirs != ours]
    assert set(differ) == ({(4, 3), (2, 1)} if len(found) == 13 else {(1, 3), (2, 1)})
