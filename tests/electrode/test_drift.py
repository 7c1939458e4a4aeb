"""Fouling and drift. The formulas are TM 1-D3's, from memory; the worked tables are our own arithmetic from them."""

from __future__ import annotations

import csv
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from dawnline.duration import DAY_MS
from dawnline.electrode.drift import Grade, Visits, drift_error, fouling_error, grade, lookup

# day, raw, fouling, drift, corrected, sum of the absolute corrections
WORKED = [
    (0, 7.80, 0.000, 0.000, 7.800, 0.00),
    (5, 7.90, 0.010, 0.040, 7.950, 0.05),
    (10, 8.00, 0.020, 0.080, 8.100, 0.10),
    (15, 8.10, 0.030, 0.120, 8.250, 0.15),
    (20, 8.20, 0.040, 0.160, 8.400, 0.20),
]
TWO_POINT = [
    (0, 7.80, 0.0, 7.8000),
    (5, 7.90, -0.0475, 7.8525),
    (10, 8.00, -0.1000, 7.9000),
    (15, 8.10, -0.1575, 7.9425),
    (20, 8.20, -0.2200, 7.9800),
]


@pytest.mark.parametrize(("day", "raw", "fouling", "drift", "corrected", "total"), WORKED)
def test_twenty_days_between_two_visits(
    day: int, raw: float, fouling: float, drift: float, corrected: float, total: float
) -> None:
    visits = Visits(0, 20 * DAY_MS, fouling_error(8.16, 8.20, 8.25, 8.25), ((6.86, drift_error(7.02, 6.86)),))
    found = visits.correct(day * DAY_MS, raw)
    assert found == pytest.approx((corrected, fouling, drift))
    assert found.magnitude == pytest.approx(total)
    assert found.grade is Grade.EXCELLENT


@pytest.mark.parametrize(("day", "raw", "drift", "corrected"), TWO_POINT)
def test_drift_that_differs_along_the_scale(day: int, raw: float, drift: float, corrected: float) -> None:
    visits = Visits(0, 20 * DAY_MS, drift=((7.0, -0.10), (10.0, -0.40)))
    assert visits.correct(day * DAY_MS, raw) == pytest.approx((corrected, 0.0, drift))


def test_drift_is_looked_up_on_the_reading_corrected_for_fouling() -> None:
    visits = Visits(0, 10, fouling=1.0, drift=((7.0, 0.0), (9.0, 0.2)))
    assert visits.correct(10, 7.0) == pytest.approx((8.1, 1.0, 0.1))


def test_what_was_left_uncorrected_at_the_first_visit() -> None:
    visits = Visits(0, 10, drift=((7.0, 0.3),), left=((7.0, 0.1),))
    assert [visits.correct(at, 7.0).drift for at in (0, 5, 10)] == pytest.approx([0.1, 0.2, 0.3])


def test_outside_the_visits_nothing_is_corrected() -> None:
    visits = Visits(100, 200, 0.5)
    assert visits.correct(99, 7.0) == visits.correct(201, 7.0) == (7.0, 0.0, 0.0)
    assert Visits(5, 5, 0.5).correct(5, 7.0) == (7.0, 0.0, 0.0)


def test_the_water_moved_while_the_probe_was_cleaned() -> None:
    assert fouling_error(8.16, 8.30, 8.25, 8.35) == pytest.approx(0.04)
    assert fouling_error(8.16, 8.20) == pytest.approx(0.04)


def test_lookup_is_held_outside_the_standards() -> None:
    errors = ((4.0, 0.4), (7.0, 0.1), (10.0, -0.2))
    assert [lookup(errors, x) for x in (2.0, 4.0, 5.5, 7.0, 8.5, 10.0, 12.0)] == pytest.approx(
        [0.4, 0.4, 0.25, 0.1, -0.05, -0.2, -0.2]
    )
    assert lookup((), 7.0) == 0.0


@pytest.mark.parametrize(
    ("magnitude", "expected"),
    [
        (0.0, Grade.EXCELLENT),
        (0.20, Grade.EXCELLENT),
        (0.04 + 0.16, Grade.EXCELLENT),
        (0.204, Grade.EXCELLENT),
        (0.205, Grade.GOOD),
        (0.21, Grade.GOOD),
        (0.50, Grade.GOOD),
        (0.51, Grade.FAIR),
        (0.80, Grade.FAIR),
        (0.1 + 0.7, Grade.FAIR),
        (0.81, Grade.POOR),
        (2.00, Grade.POOR),
        (2.01, Grade.BEYOND),
    ],
)
def test_grades_of_table_18(magnitude: float, expected: Grade) -> None:
    assert grade(magnitude) is expected


def test_corrections_that_cancel_still_count() -> None:
    found = Visits(0, 1, 0.3, ((7.0, -0.3),)).correct(1, 7.0)
    assert found.value == pytest.approx(7.0)
    assert found.grade is Grade.FAIR


def test_beyond_the_limit_the_record_is_flagged_and_not_corrected() -> None:
    visits = Visits(0, 100, drift=((7.0, 2.5),))
    assert visits.correct(80, 7.0).value == pytest.approx(9.0)
    beyond = visits.correct(81, 7.0)
    assert beyond.value is None
    assert beyond.grade is Grade.BEYOND
    assert beyond.grade.label == "beyond correction"


def test_offsets_of_a_real_stream() -> None:
    """Main Street, Logan River Observatory: the offset found at each of 45 visits comes out at its end, and a
    straight line leads there over the real readings of 2017.
    """
    folder = Path(os.environ.get("DAWNLINE_DATA", ""))
    if not os.environ.get("DAWNLINE_DATA"):
        pytest.skip("DAWNLINE_DATA names no folder with the real series")
    with (folder / "main-street-calibrations.csv").open(encoding="utf-8") as file:
        windows = [(_utc(row["start"]), _utc(row["end"]), float(row["gap"])) for row in csv.DictReader(file)]
    with (folder / "main-street-2017.csv").open(encoding="utf-8") as file:
        readings = [(_utc(row["time"][:16]), float(row["ph"])) for row in csv.DictReader(file) if row["ph"]]
    grades = dict.fromkeys(Grade, 0)
    covered = 0
    for start, end, gap in windows:
        visits = Visits(start, end, drift=((7.0, gap),))
        assert visits.correct(end, 8.0) == pytest.approx((8.0 + gap, 0.0, gap))
        assert visits.correct((start + end) // 2, 8.0).drift == pytest.approx(gap / 2)
        grades[visits.correct(end, 8.0).grade] += 1
        for at, ph in readings:
            if start <= at <= end:
                covered += 1
                value = visits.correct(at, ph).value
                assert value is not None
                assert value - ph == pytest.approx(gap * (at - start) / (end - start))
    assert len(windows) == 45
    assert covered > 25_000
    # 43 within 0.2, one winter's 0.32 and the 0.70 of late 2014 (and 0.21 of 2018)
    assert (grades[Grade.EXCELLENT], grades[Grade.GOOD], grades[Grade.FAIR]) == (42, 2, 1)


def _utc(text: str) -> int:
    return round(datetime.fromisoformat(text.replace("T", " ")).replace(tzinfo=UTC).timestamp() * 1000)
