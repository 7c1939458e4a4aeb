from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.electrode.calibration import IDEAL, MV, Calibration
from dawnline.electrode.nernst import slope_mv

# ln(10) R T / F with CODATA 2018; 54 mV at 0, 59.16 at 25 and 64 at 50 degC are the usual rounded figures.
SLOPES = {0: 54.199, 5: 55.191, 10: 56.183, 15: 57.175, 20: 58.167, 25: 59.159, 30: 60.151, 35: 61.144, 40: 62.136}
# pH shown where the slope of 25 degC is assumed at another temperature: 7 + (pH - 7) k(t) / k(25).
UNCOMPENSATED = {(8.0, 5): 7.933, (8.0, 15): 7.966, (8.0, 30): 8.017, (9.0, 5): 8.866, (9.0, 20): 8.966}


@pytest.mark.parametrize(("celsius", "expected"), SLOPES.items())
def test_slope(celsius: int, expected: float) -> None:
    assert slope_mv(celsius) == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize(("case", "shown"), UNCOMPENSATED.items())
def test_what_compensation_is_for(case: tuple[float, int], shown: float) -> None:
    ph, celsius = case
    assert IDEAL[MV].ph(IDEAL[MV].measured(ph, celsius), 25.0) == pytest.approx(shown, abs=0.001)


@given(st.floats(0, 14), st.floats(0, 50), st.floats(70, 110), st.floats(-60, 60))
def test_there_and_back(ph: float, celsius: float, slope: float, offset: float) -> None:
    glass = Calibration(MV, slope, offset)
    assert glass.ph(glass.measured(ph, celsius), celsius) == pytest.approx(ph, abs=1e-9)
