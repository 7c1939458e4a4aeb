"""Checks of a series that moves too little, flat line and attenuated signal, beside ioos_qc."""

from __future__ import annotations

import math
from typing import Any

import pytest

from dawnline.quality.attenuated import Attenuated
from dawnline.quality.flat import Flat

from .oracle import (
    EVERY,
    T0_S,
    VECTORS,
    Oracle,
    good_before,
    held,
    measured,
    regular,
    seconds,
    series,
    spread,
    streamed,
    vectors,
)

# ------------------------------------------------------------ flat line


def fixed(suspect_s: int, fail_s: int, tolerance: float) -> Flat:
    return Flat(tolerance, floor=suspect_s * 1000, cap=suspect_s * 1000, fail=fail_s * 1000)


@vectors("flat")
def test_flat_of_the_reference(vector: dict[str, Any]) -> None:
    t, suspect = seconds(vector), vector["suspect"]
    found = streamed(fixed(suspect, vector["fail"], vector["tolerance"]).push, t, vector["values"])
    early = lambda i: t[i] - t[0] < suspect and vector["flags"][i] != 9  # noqa: E731
    if len(t) == 2:  # ioos_qc judges no series of two points; time suffices for us
        assert found == [2, 3]
    else:
        assert found == good_before(vector["flags"], early)


@EVERY
@pytest.mark.parametrize("tolerance", [0.005, 0.015, 0.035])
def test_flat(oracle: Oracle, t: list[int], v: list[float], tolerance: float) -> None:
    """A missing value at the old end of the window: ioos_qc judges what is left, less than the time asked for. We hold
    the value before it, so that the window is never shorter than the threshold.
    """
    step = t[1] - t[0]
    suspect, fail = 6 * step, 18 * step
    ours = streamed(fixed(suspect, fail, tolerance).push, t, v)
    theirs = good_before(oracle.flat(t, held(v), suspect, fail, tolerance), lambda i: t[i] - t[0] < suspect)
    assert ours == [9 if math.isnan(x) else flag for x, flag in zip(v, theirs, strict=True)]
    plain = oracle.flat(t, v, suspect, fail, tolerance)
    differ = [i for i in range(6, len(v)) if ours[i] != plain[i]]
    assert all(math.isnan(v[i - 6]) or (i >= 18 and math.isnan(v[i - 18])) for i in differ)


def test_flat_a_threshold_between_readings_is_not_cut_short(oracle: Oracle) -> None:
    t, v = regular(6), [7.8] * 6
    assert oracle.flat(t, v, 1500, 99_999, 0.005) == [1, 1, 3, 3, 3, 3]  # after 1200 s
    assert streamed(fixed(1500, 99_999, 0.005).push, t, v) == [2, 2, 2, 3, 3, 3]  # after 1800 s


def test_flat_counts_time_where_readings_are_irregular(oracle: Oracle) -> None:
    t, v = [T0_S + s for s in (0, 10, 20, 30, 40, 3640)], [7.8] * 6
    assert oracle.flat(t, v, 40, 99_999, 0.005) == [1, 1, 1, 1, 3, 3]
    assert streamed(fixed(40, 99_999, 0.005).push, t, v) == [2, 2, 2, 2, 3, 3]
    assert oracle.flat(t, v, 3600, 99_999, 0.005) == [1] * 6  # 360 readings, it thinks
    assert streamed(fixed(3600, 99_999, 0.005).push, t, v) == [2, 2, 2, 2, 2, 3]


# ------------------------------------------------------------ attenuated signal


def attenuated(suspect: float, fail: float, period_s: int) -> Attenuated:
    return Attenuated(suspect, fail, period=period_s * 1000, grain=0)


@pytest.mark.parametrize("vector", [v for v in VECTORS["attenuated"] if v["check"] == "range"])
def test_attenuated_of_the_reference(vector: dict[str, Any]) -> None:
    """ioos_qc judges a window that is not full, by `min_obs` at best; we wait until a whole period has passed."""
    t = seconds(vector)
    found = streamed(attenuated(vector["suspect"], vector["fail"], vector["period"]).push, t, vector["values"])
    assert found == [2, 2, 2, 2, *vector["flags"][4:]]


@EVERY
def test_attenuated(oracle: Oracle, t: list[int], v: list[float]) -> None:
    """A missing value in the window makes ioos_qc say nothing; we judge what was measured."""
    t, v = t[:3000], v[:3000]
    period, suspect, fail = 12 * (t[1] - t[0]), 0.055, 0.025
    ours = streamed(attenuated(suspect, fail, period).push, t, v)
    there = {"test_period": period, "check_type": "range"}
    theirs = spread(oracle.attenuated(*measured(t, v), suspect, fail, **there), v)
    assert ours == [2 if at - t[0] < period and flag != 9 else flag for at, flag in zip(t, theirs, strict=True)]
    plain = oracle.attenuated(t, v, suspect, fail, **there)
    assert all(
        ours[i] == plain[i] or (plain[i] == 2 and any(map(math.isnan, v[i - 11 : i]))) for i in range(12, len(v))
    )


def test_attenuated_in_grains_forgets_a_little_early_and_is_else_the_same() -> None:
    t, v = regular(400, 60), series(5)
    exact, grained = attenuated(0.055, 0.025, 7200), Attenuated(0.055, 0.025, period=7_200_000)
    pairs = list(zip(streamed(exact.push, t, v), streamed(grained.push, t, v), strict=True))
    assert all(b >= a for a, b in pairs)  # a narrower window is never wider in range
    assert sum(a != b for a, b in pairs) <= 12
