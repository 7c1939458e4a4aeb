"""Alkalinity units: published conversions and the way back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.water.units import (
    dkh_from_meq_l,
    meq_l_from_dkh,
    meq_l_from_mg_l_caco3,
    mg_l_caco3_from_meq_l,
)


def test_published_conversions():
    # 1 dKH = 17.848 mg/L CaCO3 = 0.3566 meq/L; 1 meq/L = 2.8 dKH = 50.04 mg/L CaCO3 (DIN)
    assert meq_l_from_dkh(1.0) == pytest.approx(0.35665, abs=1e-5)
    assert mg_l_caco3_from_meq_l(meq_l_from_dkh(1.0)) == pytest.approx(17.848, abs=1e-3)
    assert dkh_from_meq_l(1.0) == pytest.approx(2.80387, abs=1e-4)
    assert mg_l_caco3_from_meq_l(1.0) == pytest.approx(50.0435, abs=1e-4)


@given(st.floats(-10.0, 1000.0))
def test_there_and_back(alkalinity):
    assert meq_l_from_dkh(dkh_from_meq_l(alkalinity)) == pytest.approx(alkalinity)
    assert meq_l_from_mg_l_caco3(mg_l_caco3_from_meq_l(alkalinity)) == pytest.approx(alkalinity)
