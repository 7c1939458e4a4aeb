"""The likelihood of a course, set beside the same normal distribution written out as a matrix."""

from __future__ import annotations

from math import log

import pytest

from dawnline.outlook import level
from dawnline.outlook.level import CHECK, NIGHT, POND_STEP, RESET, Level, Mark

MARKS = [
    Mark(NIGHT, 0.0, -2.0),
    Mark(NIGHT, 1.0, 1.0),
    Mark(CHECK, 0.6, 0.05),
    Mark(NIGHT, 0.4, 0.5, 0.1),
    Mark(POND_STEP, 0.0, 0.0, 0.2),
    Mark(NIGHT, 2.0),
]
RESIDUALS = [7.31, 7.28, 7.36, 7.11]
MEASURED = [7.31, 7.28, 0.05, 7.36, 7.11]


def solve(matrix: list[list[float]], right: list[float]) -> tuple[list[float], float]:
    """Gauss; the solution and the log of the determinant."""
    rows, size, det = [[*row, b] for row, b in zip(matrix, right, strict=True)], len(right), 0.0
    for i in range(size):
        det += log(rows[i][i])
        for j in range(i + 1, size):
            factor = rows[j][i] / rows[i][i]
            rows[j] = [b - factor * a for a, b in zip(rows[i], rows[j], strict=True)]
    found = [0.0] * size
    for i in reversed(range(size)):
        found[i] = (rows[i][size] - sum(rows[i][k] * found[k] for k in range(i + 1, size))) / rows[i][i]
    return found, det


def by_matrix(noise: float) -> float:
    """Each observation as a sum of independent causes: the same likelihood by its covariance."""
    seen: list[tuple[dict[str, float], float]] = []  # causes with their size, noise
    level_causes, wander = {"c": level.LEVEL_SD}, {"w": level.BEGIN_SD}
    for n, mark in enumerate(MARKS):
        level_causes[f"c{n}"] = noise * mark.days**0.5
        wander[f"w{n}"] = level.DRIFT_PER_ROOT_DAY * mark.days**0.5
        if mark.kind == POND_STEP:
            level_causes[f"s{n}"] = mark.sd
        elif mark.kind == CHECK:
            seen.append((dict(wander), level.CHECK_SD))
        else:
            warm = {"g": level.WARMTH_SD * mark.value}
            seen.append(({**level_causes, **wander, **warm}, (noise**2 + mark.sd**2) ** 0.5))
    means = [7.0 + level.WARMTH * m.value if m.kind == NIGHT else 0.0 for m in MARKS if m.kind != POND_STEP]
    matrix = [
        [sum(a[k] * b[k] for k in a.keys() & b.keys()) + (sd_a**2 if i == j else 0.0) for j, (b, _) in enumerate(seen)]
        for i, (a, sd_a) in enumerate(seen)
    ]
    off = [y - m for y, m in zip(MEASURED, means, strict=True)]
    found, det = solve(matrix, off)
    return -0.5 * (sum(a * b for a, b in zip(off, found, strict=True)) + det)


@pytest.mark.parametrize("noise", [0.01, 0.05])
def test_the_filter_gives_the_likelihood_of_the_matrix(noise: float) -> None:
    assert Level(MARKS, noise).fit(RESIDUALS).likelihood == pytest.approx(by_matrix(noise), abs=1e-6)


def test_a_check_tells_the_pond_from_the_probe() -> None:
    marks = [Mark(NIGHT, 0.0), Mark(CHECK, 0.1, 0.3), Mark(NIGHT, 0.9)]
    fit = Level(marks, 0.01).fit([7.5, 7.5])
    assert fit.level == pytest.approx(7.2, abs=0.04)
    assert fit.error == pytest.approx(0.3, abs=0.04)


def test_after_a_calibration_the_probe_reads_right() -> None:
    months = [Mark(NIGHT, 0.0), Mark(NIGHT, 100.0)]
    fit = Level(months, 0.01).fit([7.5, 7.5])
    assert fit.level == pytest.approx(7.5, abs=0.01)
    calibrated = [*months, Mark(RESET, 0.5, 0.0, 0.01), *[Mark(NIGHT, 0.5)] * 3]
    after = Level(calibrated, 0.01).fit([7.5, 7.5, 7.2, 7.2, 7.2])
    assert after.level == pytest.approx(7.2, abs=0.05)
    assert abs(after.error) < 0.02


def test_what_no_night_lets_expect_surprises() -> None:
    marks = [Mark(NIGHT, float(n > 0)) for n in range(10)]
    surprises = Level(marks, 0.01).surprises([7.3] * 6 + [6.9] * 4)
    assert max(range(10), key=lambda n: abs(surprises[n])) == 6
    assert surprises[6] < -5
