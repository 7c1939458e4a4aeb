from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.electrode.acceptance import judge, residual
from dawnline.electrode.buffers import BUFFERS
from dawnline.electrode.calibration import IDEAL, MV, Calibration, Point, fit
from dawnline.errors import InputError

AT = 1_780_000_000_000
EMV, PH = IDEAL[MV], IDEAL["ph"]

# Two worked electrodes from "How to calculate offset and slope" (studylib.net/doc/25392327), with its verdicts; the
# third is our own. mV in the acid buffer, its pH, mV in the neutral one, its pH -> slope %, mV at pH 7, zero point.
WORKED = [
    ((160, 4.01, -15, 7.01), (98.6, -14.42, 6.753), True),
    ((160, 4.01, 15, 7.01), (81.7, 15.48, 7.320), False),
    ((170, 4.005, -5, 7.0), (98.8, -5.00, 6.914), True),
]


@pytest.mark.parametrize(("measured", "expected", "kept"), WORKED)
def test_worked_electrodes(measured: tuple[float, ...], expected: tuple[float, float, float], kept: bool) -> None:
    acid_mv, acid, neutral_mv, neutral = measured
    found = fit([Point(acid, acid_mv, 25.0), Point(neutral, neutral_mv, 25.0)], AT, EMV)
    assert found.slope == pytest.approx(expected[0], abs=0.05)
    assert found.offset == pytest.approx(expected[1], abs=0.005)
    assert found.zero_point_ph == pytest.approx(expected[2], abs=0.0006)
    assert judge(found).kept is kept


@pytest.mark.parametrize("celsius", [5.0, 18.0, 35.0])
@pytest.mark.parametrize("names", [("7.00", "10.01"), ("4.00", "7.00", "10.01"), ("phosphate", "borax")])
def test_the_electrode_is_found_again_at_three_temperatures(celsius: float, names: tuple[str, ...]) -> None:
    glass = Calibration(MV, 93.0, -12.0)
    points = [
        Point(BUFFERS[name].ph(celsius), glass.measured(BUFFERS[name].ph(celsius), celsius), celsius) for name in names
    ]
    found = fit(points, AT, EMV)
    assert (found.slope, found.offset) == pytest.approx((93.0, -12.0))
    assert found.ph(glass.measured(8.2, 12.0), 12.0) == pytest.approx(8.2)


def test_the_nominal_value_at_the_wrong_temperature_would_be_off() -> None:
    """Why the buffer's own temperature counts: at 5 degC the bottle of 7.00 has 7.09."""
    point = Point(7.0, EMV.measured(BUFFERS["7.00"].ph(5.0), 5.0), 5.0)
    assert fit([point], AT, EMV).ph(EMV.measured(8.0, 5.0), 5.0) == pytest.approx(7.91)


def test_one_buffer_keeps_the_slope_in_force() -> None:
    before = Calibration(MV, 91.0, 4.0, AT - 1)
    found = fit([Point(7.0, 9.5, 25.0)], AT, before)
    assert (found.slope, found.offset, found.at) == (91.0, 9.5, AT)


@pytest.mark.parametrize("quantity", [MV, "ph"])
@given(
    slope=st.floats(60, 130),
    offset=st.floats(-0.6, 0.6),
    celsius=st.floats(0, 50),
    ph=st.floats(4, 11),
)
def test_fit_inverts(quantity: str, slope: float, offset: float, celsius: float, ph: float) -> None:
    true = Calibration(quantity, slope, offset)
    points = [Point(value, true.measured(value, celsius), celsius) for value in (4.0, 7.0, 10.0)]
    for some in (points, points[:2], points[::-1]):
        found = fit(some, AT, IDEAL[quantity])
        assert (found.slope, found.offset) == pytest.approx((slope, offset), abs=1e-6)
        assert found.ph(true.measured(ph, celsius), celsius) == pytest.approx(ph, abs=1e-6)


def test_a_probe_of_finished_ph_is_corrected_by_the_same_path() -> None:
    found = fit([Point(7.0, 7.2, 20.0), Point(10.0, 10.05, 20.0)], AT, PH)
    assert found.slope == pytest.approx(95.0)
    assert found.offset == pytest.approx(0.2)
    assert found.ph(8.625, 20.0) == pytest.approx(8.5)
    assert found.ph(8.625, 3.0) == found.ph(8.625, 33.0)
    assert judge(found).kept


def test_three_buffers_by_least_squares() -> None:
    points = [Point(4.0, 4.0, 25), Point(7.0, 7.03, 25), Point(10.0, 10.0, 25)]
    found = fit(points, AT, PH)
    assert (found.slope, found.offset) == pytest.approx((100.0, 0.01))
    assert residual(found) == pytest.approx(0.03)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(7.0, 0.0), (10.0, -148.0)], "slope is 83.4 %"),
        ([(7.0, 0.0), (10.0, -189.0)], "slope is 106.5 %"),
        ([(10.0, 0.0), (7.0, -177.0)], "buffers swapped"),
        ([(7.0, 31.0)], r"offset at pH 7 is \+31 mV"),
        ([(7.0, -30.5)], r"-30.5 mV"),
        ([(6.865, 0.0), (7.413, -32.4)], "lie 0.55 pH apart"),
        ([(4.0, 177.5), (7.0, 9.0), (10.0, -177.5)], "middle buffer reads -0.15 pH off"),
    ],
)
def test_refused_with_the_reason(points: list[tuple[float, float]], words: str) -> None:
    judgement = judge(fit([Point(ph, mv, 25.0) for ph, mv in points], AT, EMV))
    assert not judgement.kept
    assert re.search(words, str(judgement)), str(judgement)


def test_a_probe_that_hardly_moves_is_said_to() -> None:
    judgement = judge(fit([Point(7.0, -179.0, 25), Point(10.0, -178.9, 25)], AT, EMV))
    assert not judgement.kept
    assert str(judgement).startswith("the probe shows nearly the same in every buffer: did it stand in each of them?")


def test_on_the_limits_it_is_kept() -> None:
    k = 59.1594
    assert judge(fit([Point(7.0, 29.9, 25), Point(10.0, 29.9 - 3 * k * 0.851, 25)], AT, EMV)).kept
    assert judge(fit([Point(7.0, -29.9, 25), Point(10.0, -29.9 - 3 * k * 1.049, 25)], AT, EMV)).kept


def test_a_usable_slope_is_remarked() -> None:
    judgement = judge(fit([Point(7.0, 0, 25), Point(10.0, -160, 25)], AT, EMV))
    assert judgement.kept
    assert "usable" in str(judgement)
    assert str(judge(fit([Point(7.0, 0, 25), Point(10.0, -177, 25)], AT, EMV))) == "within the acceptance range"


def test_buffers_of_different_warmth_are_remarked() -> None:
    judgement = judge(fit([Point(7.06, -3.4, 10), Point(10.01, -178, 25)], AT, EMV))
    assert judgement.kept
    assert "15.0 degC" in str(judgement)


def test_for_finished_ph_the_offset_counts_in_ph() -> None:
    assert judge(fit([Point(7.0, 7.5, 25)], AT, PH)).kept
    assert "0.51 pH" in str(judge(fit([Point(7.0, 7.52, 25)], AT, PH)))


@pytest.mark.parametrize(
    "points",
    [
        [],
        [Point(7.0, 0.0, 25.0)] * 4,
        [Point(7.0, 1.0, 25.0), Point(7.0, 2.0, 25.0)],
        [Point(7.0, 1.0, 25.0), Point(10.0, 1.0, 25.0)],
        [Point(7.0, float("nan"), 25.0)],
    ],
)
def test_what_gives_no_calibration(points: list[Point]) -> None:
    with pytest.raises(InputError):
        fit(points, AT, EMV)


def test_never_calibrated() -> None:
    assert EMV.never
    assert PH.ph(7.83, 4.0) == pytest.approx(7.83)
    assert not fit([Point(7.0, 0.0, 25.0)], AT, EMV).never


def test_json_there_and_back() -> None:
    found = fit([Point(7.02, -1.25, 20.5), Point(10.06, -171.3, 20.5)], AT, EMV)
    assert Calibration.from_json(json.loads(json.dumps(found.as_json()))) == found
