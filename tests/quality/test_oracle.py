"""Span, season, gap and the roll-up beside ioos_qc; and ioos_qc is the one whose flags are written down."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from datetime import UTC, datetime
from functools import reduce
from typing import Any

import pytest

from dawnline.quality.climatology import Climatology
from dawnline.quality.gap import Gap
from dawnline.quality.judge import Judge
from dawnline.quality.span import Span
from dawnline.quality.verdict import GOOD, Verdict, worst
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason, Sample

from .oracle import (
    EVERY,
    STEP_S,
    T0_S,
    VECTORS,
    Oracle,
    flags,
    measured,
    regular,
    seconds,
    series,
    streamed,
    vectors,
)


@pytest.mark.parametrize("test", ["rate", "flat", "attenuated", "spike", "gross_range", "gap"])
def test_the_reference_is_what_the_oracle_says(oracle: Oracle, test: str) -> None:
    for vector in VECTORS[test]:
        v, suspect, fail = vector.get("values", []), vector.get("suspect"), vector.get("fail")
        match test:
            case "rate":
                per = vector["per_s"]
                found = oracle.rate(seconds(vector), v, suspect / per, None if fail is None else fail / per)
            case "flat":
                found = oracle.flat(seconds(vector), v, suspect, fail, vector["tolerance"])
            case "attenuated":
                more = {"min_obs": vector["min_obs"]} if "min_obs" in vector else {}
                check = {"check_type": vector["check"], "test_period": vector["period"]}
                found = oracle.attenuated(seconds(vector), v, suspect, fail, **check, **more)
            case "spike":
                found = oracle.spike(v, suspect, fail, vector["method"])
            case "gross_range":
                found = oracle.gross_range(v, fail, suspect)
            case _:
                found = oracle.gap(seconds(vector), vector["after_h"])
        assert found == vector["flags"]


# ------------------------------------------------------------ gross range


def span(fail: Any, suspect: Any) -> Callable[[int, float], Verdict]:
    check = Span(QUANTITIES["ph"], tuple(fail), tuple(suspect or fail))
    return lambda at, value: check.push(value)


@vectors("gross_range")
def test_gross_range_of_the_reference(vector: dict[str, Any]) -> None:
    push = span(vector["fail"], vector.get("suspect"))
    assert streamed(push, seconds(vector), vector["values"]) == vector["flags"]


@EVERY
def test_gross_range(oracle: Oracle, t: list[int], v: list[float]) -> None:
    found = sorted(measured(t, v)[1])
    outer, inner = ((found[len(found) // n], found[-len(found) // n]) for n in (20, 5))
    assert streamed(span(outer, inner), t, v) == oracle.gross_range(v, outer, inner)


# ------------------------------------------------------------ climatology


def test_climatology_of_the_reference() -> None:
    """The manual knows no `fail` here, ioos_qc does: what is beyond its second span is suspect for us."""
    (vector,) = VECTORS["climatology"]
    t = [round(datetime.fromisoformat(date).replace(tzinfo=UTC).timestamp()) for date in vector["dates"]]
    spans = {month: (low, high) for a, b, low, high in vector["spans"] for month in range(a, b + 1)}
    found = streamed(Climatology(0.0, spans).push, t, vector["values"])
    assert found == [3 if flag == 4 else flag for flag in vector["flags"]]


@pytest.mark.parametrize("seed", range(6))
def test_climatology(oracle: Oracle, seed: int) -> None:
    v = series(seed, missing=0.05 * (seed % 2), restless=1.0)[:360]  # a second year would be judged by the first
    t = regular(360, 86_400)
    low, high = sorted(measured(t, v)[1])[40], sorted(measured(t, v)[1])[-40]
    spans = {1: (low, high), 2: (low, high), 3: (low, high), 7: (low, high)}
    ours = streamed(Climatology(0.0, spans).push, t, v)
    members = [{"tspan": (1, 3), "vspan": (low, high)}, {"tspan": (7, 7), "vspan": (low, high)}]
    theirs = oracle.climatology(t, v, members)
    # With `period` ioos_qc passes a missing value inside a member as good; it is missing.
    assert [flag for flag, x in zip(ours, v, strict=True) if math.isnan(x)] == [9] * sum(map(math.isnan, v))
    assert {flag for flag, x in zip(theirs, v, strict=True) if math.isnan(x)} <= {1, 9}
    assert [f for f, x in zip(ours, v, strict=True) if x == x] == [f for f, x in zip(theirs, v, strict=True) if x == x]


# ------------------------------------------------------------ gap, roll-up


@vectors("gap")
def test_gap_of_the_reference(vector: dict[str, Any]) -> None:
    """The first point has nothing before it; ioos_qc gives it the flag of the second."""
    gap = Gap(round(vector["after_h"] * 3_600_000))
    t = seconds({**vector, "values": []})
    assert [int(gap.push(at * 1000)[0]) for at in t] == [2, *vector["flags"][1:]]


@pytest.mark.parametrize("seed", range(6))
def test_gap(oracle: Oracle, seed: int) -> None:
    dice = random.Random(seed)
    t = [T0_S]
    for _ in range(300):
        t.append(t[-1] + dice.choice((600, 600, 600, 3600, 3601, 9000)))
    gap = Gap(3_600_000)
    assert [int(gap.push(at * 1000)[0]) for at in t][1:] == oracle.gap(t, 1.0)[1:]


def test_the_roll_up(oracle: Oracle) -> None:
    (vector,) = VECTORS["compare"]
    columns = list(zip(*vector["of"], strict=True))
    ours = [int(reduce(worst, [(Flag(flag), Reason.NONE) for flag in column])[0]) for column in columns]
    assert ours == vector["flags"]
    assert flags(oracle.qartod.qartod_compare([oracle.np.array(row) for row in vector["of"]])) == ours


def test_our_checks_stand_in_a_row_where_the_roll_up_asks_each_of_all(oracle: Oracle) -> None:
    """pH 2.5 for two days and more is flat as well, which is not asked of what no pond shows; what follows is good."""
    t, v = regular(600), [7.8, 7.81] * 100 + [2.5] * 300 + [7.8, 7.81] * 50
    judge = Judge("ph", interval=STEP_S * 1000)
    ours = streamed(lambda at, value: judge.push(Sample("ph", at, value, at)) or GOOD, t, v)
    flat = oracle.flat(t, v, 3 * 3600, 48 * 3600, 0.005)
    rolled = oracle.qartod.qartod_compare(
        [oracle.np.array(oracle.gross_range(v, (2, 12), (3, 11))), oracle.np.array(flat)]
    )
    assert set(ours[200:500]) == {3}
    assert flags(rolled)[490:500] == [4] * 10
    assert set(ours[500:]) == {1}
