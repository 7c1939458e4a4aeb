from __future__ import annotations

import json
from datetime import UTC

import pytest

from dawnline.duration import DAY_MS
from dawnline.electrode.calibration import MV, Calibration, Point
from dawnline.electrode.due import due
from dawnline.electrode.history import REMEMBERED, Check, Comparison, History
from dawnline.electrode.settings import CalibrationSettings
from dawnline.electrode.wear import offset_trend, slope_trend, wear

AT = 1_780_000_000_000
TWO = (Point(7.0, 0.0, 25.0), Point(10.0, -170.0, 25.0))


def calibrated(slope: float = 98.0, offset: float = 0.0, day: float = 0, quantity: str = MV) -> Calibration:
    return Calibration(quantity, slope, offset, AT + round(day * DAY_MS), TWO)


def history(*kept: Calibration, quantity: str = MV) -> History:
    found = History(quantity)
    for each in kept:
        found.keep(each)
    return found


def test_never_calibrated_is_due_for_millivolts_only() -> None:
    assert due(History(MV), AT) == ["it was never calibrated"]
    assert due(History("ph"), AT) == []
    assert due(History("ph"), AT, CalibrationSettings.model_validate({"due_after": "60d"})) != []


def test_due_by_age() -> None:
    some = history(calibrated())
    assert due(some, AT + 30 * DAY_MS) == []
    assert due(some, AT + 31 * DAY_MS) == ["the last calibration is 31 d old, 30 d is the limit"]
    longer = CalibrationSettings.model_validate({"due_after": "90d"})
    assert due(some, AT + 31 * DAY_MS, longer) == []
    assert due(some, AT + 91 * DAY_MS, longer) != []


def test_due_by_slope() -> None:
    assert due(history(calibrated(90.0)), AT) == []
    assert "down to 89.9 %" in due(history(calibrated(89.9)), AT)[0]


@pytest.mark.parametrize(
    ("off", "step", "is_due"),
    [
        ((0.46, 0.6), 0.5, True),
        ((-0.46, -0.6), 0.5, True),
        ((0.44, 0.6), 0.5, False),  # within what a kit of half steps can tell
        ((0.46, -0.6), 0.5, False),  # they do not say the same
        ((0.3, 0.3), 0.1, True),  # a finer test tells more
        ((0.6,), 0.5, False),  # one is none
    ],
)
def test_due_by_hand_tests(off: tuple[float, ...], step: float, is_due: bool) -> None:
    some = history(calibrated())
    some.hand_tests.append(Comparison(AT - 1, 6.0, 8.0))  # before the calibration
    for n, each in enumerate(off):
        some.hand_tests.append(Comparison(AT + 1 + n, 7.5, 7.5 + each))
    found = due(some, AT + DAY_MS, CalibrationSettings(hand_test_step=step))
    assert any("tests by hand" in reason for reason in found) is is_due


def test_due_by_a_check() -> None:
    some = history(calibrated())
    some.checks.append(Check(AT + 1, 7.0, 7.21, 25.0))
    assert due(some, AT + 2) == ["it read pH 7.21 in a buffer of 7.00"]
    some.checks.append(Check(AT + 2, 7.0, 7.19, 25.0))
    assert due(some, AT + 2) == []
    some.checks.append(Check(AT + 3, 7.0, 6.5, 25.0))
    some.keep(calibrated(day=1))
    assert due(some, AT + DAY_MS) == []


def test_the_memory_is_bounded_and_survives() -> None:
    some = history(*(calibrated(90 + n / 100, n / 7, n) for n in range(REMEMBERED + 5)))
    some.checks.append(Check(AT, 7.0, 7.1, 20.0))
    some.hand_tests.append(Comparison(AT, 7.5, 7.4))
    again = History(MV)
    again.restore(json.loads(json.dumps(some.save())))
    assert again.save() == some.save()
    assert again.in_force == some.in_force == some.kept[-1]
    assert len(again.kept) == REMEMBERED
    assert again.checks[0].error == pytest.approx(0.1)
    again.checks.append(Check(AT, 7.0, 7.1, 20.0))
    assert again.checks.maxlen == REMEMBERED


def test_a_probe_of_another_quantity_begins_anew() -> None:
    again = History("ph")
    again.restore(json.loads(json.dumps(history(calibrated()).save())))
    assert again.in_force.never
    assert not again.kept


def test_trend_of_slope_and_offset() -> None:
    kept = [calibrated(98 - n, 2.0 * n, 30.4375 * n) for n in range(6)]
    slope, offset = slope_trend(kept), offset_trend(kept)
    assert slope is not None
    assert offset is not None
    assert slope.a_month == pytest.approx(-1.0)
    assert offset.a_month == pytest.approx(2.0)
    assert slope_trend(kept[:2]) is None


def test_worn_out_by_its_slope() -> None:
    wiggle = (0.1, -0.2, 0.15, 0.0, -0.1, 0.05)
    kept = [calibrated(98 - n + wiggle[n], 0.0, 30 * n) for n in range(6)]
    found = wear(kept, UTC)
    assert found.earliest is not None
    assert found.latest is not None
    # from 93.05 % at one percent in 30 days: eight months after the last, give or take
    assert found.earliest < kept[-1].at + 8.05 * 30 * DAY_MS < found.latest
    assert found.text.startswith("worn out between 20")


def test_worn_out_by_its_offset() -> None:
    kept = [calibrated(98.0, -4.0 * n + (0.2 if n % 2 else -0.2), 30 * n) for n in range(6)]
    found = wear(kept, UTC)
    assert found.earliest is not None
    assert found.latest is not None
    assert found.earliest < kept[-1].at + 2.5 * 30 * DAY_MS < found.latest


@pytest.mark.parametrize(
    "kept",
    [
        [],
        [calibrated(98 - n, day=30 * n) for n in range(3)],
        [calibrated(98 - n, day=10 * n) for n in range(5)],
        [calibrated(97 + (n % 2), day=30 * n) for n in range(8)],
        [calibrated(96 + 0.1 * n, day=30 * n) for n in range(8)],
    ],
)
def test_it_cannot_be_said_yet(kept: list[Calibration]) -> None:
    assert wear(kept, UTC).earliest is None
    assert wear(kept, UTC).text.startswith("cannot say yet")


def test_a_new_electrode_begins_a_new_trend() -> None:
    old = [calibrated(98 - 2 * n, day=30 * n) for n in range(6)]
    new = [calibrated(99.0, day=180)]
    assert wear(old, UTC).earliest is not None
    assert wear([*old, *new], UTC).text.startswith("cannot say yet")
