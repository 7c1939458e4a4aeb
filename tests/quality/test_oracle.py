"""Our streaming checks beside ioos_qc on the same series: equal flags, and each difference on purpose pinned exactly.

What differs in all of them: ioos_qc calls good what it cannot judge (the first points), we say `not evaluated`; and a
missing value is no sample for us, so that a check compares across it by time.
"""

from __future__ import annotations

import csv
import math
import os
import random
import tomllib
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import reduce
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from dawnline.quality.attenuated import Attenuated
from dawnline.quality.climatology import Climatology
from dawnline.quality.flat import Flat
from dawnline.quality.gap import Gap
from dawnline.quality.judge import Judge
from dawnline.quality.rate import Rate
from dawnline.quality.span import Span
from dawnline.quality.spike import Spike
from dawnline.quality.verdict import GOOD, Verdict, worst
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason, Sample

NAN = float("nan")
T0_S = 1_714_521_600  # 2024-05-01T00:00:00Z
REFERENCE = Path(__file__).parents[1] / "reference" / "qartod_flags.toml"
VECTORS: dict[str, list[dict[str, Any]]] = tomllib.loads(REFERENCE.read_text(encoding="utf-8"))
STEP_S = 600


class Oracle:
    """ioos_qc, told values and seconds."""

    def __init__(self) -> None:
        import numpy as np
        from ioos_qc import qartod

        self.np, self.qartod = np, qartod

    def times(self, seconds: list[int]) -> Any:
        return self.np.array(seconds, dtype="datetime64[s]").astype("datetime64[ns]")

    def values(self, values: list[float]) -> Any:
        return self.np.array(values, dtype=float)

    def rate(self, t: list[int], v: list[float], suspect: float, fail: float | None) -> list[int]:
        return flags(self.qartod.rate_of_change_test(self.values(v), self.times(t), suspect, fail))

    def flat(self, t: list[int], v: list[float], suspect: int, fail: int, tolerance: float) -> list[int]:
        return flags(self.qartod.flat_line_test(self.values(v), self.times(t), suspect, fail, tolerance))

    def attenuated(self, t: list[int], v: list[float], suspect: float, fail: float, **more: Any) -> list[int]:
        return flags(self.qartod.attenuated_signal_test(self.values(v), self.times(t), suspect, fail, **more))

    def spike(self, v: list[float], suspect: float, fail: float | None, method: str) -> list[int]:
        return flags(self.qartod.spike_test(self.values(v), suspect, fail, method))

    def gross_range(self, v: list[float], fail: Any, suspect: Any) -> list[int]:
        return flags(self.qartod.gross_range_test(self.values(v), fail, suspect))

    def gap(self, t: list[int], after_h: float) -> list[int]:
        return flags(self.qartod.time_gap_test(self.times(t), after_h))

    def climatology(self, t: list[int], v: list[float], members: list[dict[str, Any]]) -> list[int]:
        config = self.qartod.ClimatologyConfig()
        for member in members:
            config.add(period="month", **member)
        nowhere = self.np.full(len(v), NAN)
        return flags(self.qartod.climatology_test(config, self.values(v), self.times(t), nowhere))


@pytest.fixture(scope="module")
def oracle() -> Oracle:
    try:
        return Oracle()
    except ImportError as reason:
        if os.environ.get("DAWNLINE_TEST_ALL") == "1":
            pytest.fail(f"ioos_qc is not usable here: {reason}")
        pytest.skip(f"ioos_qc is not usable here: {reason}")


def flags(found: Any) -> list[int]:
    return [int(flag) for flag in found.filled(9)] if hasattr(found, "filled") else [int(flag) for flag in found]


def streamed(push: Callable[[int, float], Verdict], t: list[int], v: list[float]) -> list[int]:
    """Our flags: a missing value is no sample, and its flag is 9."""
    return [9 if math.isnan(x) else int(push(at * 1000, x)[0]) for at, x in zip(t, v, strict=True)]


def seconds(vector: dict[str, Any]) -> list[int]:
    if "t_s" in vector:
        return [T0_S + s for s in vector["t_s"]]
    return regular(len(vector["values"]), vector.get("step_s", STEP_S))


def regular(count: int, step_s: int = STEP_S) -> list[int]:
    return [T0_S + i * step_s for i in range(count)]


def measured(t: list[int], v: list[float]) -> tuple[list[int], list[float]]:
    """The series without its missing values."""
    kept = [(at, x) for at, x in zip(t, v, strict=True) if not math.isnan(x)]
    return [at for at, _ in kept], [x for _, x in kept]


def spread(found: list[int], v: list[float]) -> list[int]:
    """Flags of the measured values, with 9 put back where one is missing."""
    rest = iter(found)
    return [9 if math.isnan(x) else next(rest) for x in v]


def held(v: list[float]) -> list[float]:
    """Each missing value is as the one before it."""
    filled: list[float] = []
    for x in v:
        filled.append(filled[-1] if math.isnan(x) and filled else x)
    return filled


def good_before(found: list[int], limit: Callable[[int], bool]) -> list[int]:
    """ioos_qc's flags, with what it cannot judge as we call it; it must have called that good."""
    assert {flag for i, flag in enumerate(found) if limit(i)} <= {1}
    return [2 if limit(i) else flag for i, flag in enumerate(found)]


def series(seed: int, *, missing: float = 0.0, restless: float = 0.5) -> list[float]:
    """A seeded walk at two decimals that rests now and then, jumps now and then, and may miss values."""
    dice = random.Random(seed)
    value, found = 7.8, []
    for _ in range(400):
        if dice.random() < restless:
            value += dice.choice((-0.02, -0.01, 0.01, 0.02))
        if dice.random() < 0.02:
            value += dice.gauss(0, 0.5)
            restless = dice.choice((0.02, 0.1, 0.5))
        found.append(NAN if dice.random() < missing else round(value, 2))
    found[0] = 7.8
    return found


def real() -> Iterator[tuple[str, list[int], list[float]]]:
    """Regular stretches of the series in the directory that DAWNLINE_DATA names; an empty cell is a missing value."""
    folder = os.environ.get("DAWNLINE_DATA")
    for path in sorted(Path(folder).glob("*.csv")) if folder else ():
        with path.open(encoding="utf-8", newline="") as file:
            rows = [row for row in csv.DictReader(file) if "time" in row and "ph" in row]
        t = [round(datetime.fromisoformat(row["time"]).timestamp()) for row in rows]
        v = [float(row["ph"] or "nan") for row in rows]
        steps = sorted(b - a for a, b in pairwise(t))
        breaks = [0, *(i for i, (a, b) in enumerate(pairwise(t), 1) if b - a != steps[len(steps) // 2]), len(t)]
        for start, end in pairwise(breaks if rows else ()):
            first = next((i for i in range(start, end) if not math.isnan(v[i])), end)
            if end - first >= 500:
                yield f"{path.stem}-{first}", t[first:end], v[first:end]


WALKS = [pytest.param(regular(400), series(seed), id=f"seed-{seed}") for seed in range(12)]
HOLED = [pytest.param(regular(400), series(seed, missing=0.1), id=f"holed-{seed}") for seed in range(12)]
REAL = [pytest.param(t, v, id=name) for name, t, v in real()] or [
    pytest.param([], [], id="real", marks=pytest.mark.skip(reason="DAWNLINE_DATA names no directory of series"))
]
EVERY = pytest.mark.parametrize(("t", "v"), [*WALKS, *HOLED, *REAL])


# ------------------------------------------------------------ the oracle is the one whose flags are written down


def vectors(test: str) -> Any:
    return pytest.mark.parametrize("vector", VECTORS[test], ids=lambda vector: str(vector["flags"]))


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
