"""ioos_qc as an oracle: what it says of a series, the series that our checks are held against it on, and its vectors.

The tests beside this want equal flags, and pin exactly each difference on purpose. What differs in all of them: ioos_qc
calls good what it cannot judge (the first points), we say `not evaluated`; and a missing value is no sample for us, so
that a check compares across it by time.
"""

from __future__ import annotations

import csv
import math
import os
import random
import tomllib
from collections.abc import Callable, Iterator
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from dawnline.quality.verdict import Verdict

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


def vectors(test: str) -> Any:
    return pytest.mark.parametrize("vector", VECTORS[test], ids=lambda vector: str(vector["flags"]))
