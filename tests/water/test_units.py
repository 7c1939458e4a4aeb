"""Alkalinity and hardness units: published conversions, and every way there and back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.water.units import (
    ALKALINITY_UNITS,
    HARDNESS_UNITS,
    calcium_mmol_l_from_dgh,
    dkh_from_meq_l,
    meq_l_from_dkh,
    mg_l_co2_from_umol_l,
)


def test_published_conversions():
    # 1 dKH = 0.3566 meq/L; 1 meq/L = 2.8 dKH (DIN)
    assert meq_l_from_dkh(1.0) == pytest.approx(0.35665, abs=1e-5)
    assert dkh_from_meq_l(1.0) == pytest.approx(2.80387, abs=1e-4)
    assert ALKALINITY_UNITS["dKH"] == HARDNESS_UNITS["dGH"] == meq_l_from_dkh(1.0)


@pytest.mark.parametrize(
    ("unit", "mg_l_caco3"),
    [
        ("dKH", 17.848),  # DIN
        ("fH", 10.0),  # by definition
        ("eH", 14.254),  # a grain an imperial gallon
        ("gpg", 17.118),  # a grain a US gallon
        ("ppm", 1.0),
        ("mg/L CaCO3", 1.0),
        ("meq/L", 50.0435),
        ("mmol/L", 100.0869),
    ],
)
def test_one_of_each_in_mg_l_of_caco3(unit, mg_l_caco3):
    for units, name in ((ALKALINITY_UNITS, unit), (HARDNESS_UNITS, unit.replace("dKH", "dGH"))):
        assert units[name] / units["mg/L CaCO3"] == pytest.approx(mg_l_caco3, abs=6e-4)


def test_other_published_pairs():
    kh, gh = ALKALINITY_UNITS, HARDNESS_UNITS
    assert kh["dKH"] / kh["mg/L HCO3"] == pytest.approx(21.762, abs=1e-3)
    assert kh["fH"] / kh["dKH"] == pytest.approx(0.56029, abs=1e-5)
    assert kh["fH"] == pytest.approx(0.19983, abs=1e-5)
    assert kh["eH"] / kh["dKH"] == pytest.approx(0.79863, abs=5e-5)
    # 1 dGH is 10 mg/L CaO, that is 7.147 mg/L Ca
    assert gh["dGH"] / gh["mg/L Ca"] == pytest.approx(7.147, abs=1e-3)
    assert mg_l_co2_from_umol_l(1000.0) == pytest.approx(44.0095)


@given(st.floats(-10.0, 1000.0))
def test_there_and_back(amount):
    assert meq_l_from_dkh(dkh_from_meq_l(amount)) == pytest.approx(amount)


def test_calcium_of_a_hardness_less_its_magnesium():
    assert calcium_mmol_l_from_dgh(1.0) == pytest.approx(0.178325, abs=1e-6)
    assert calcium_mmol_l_from_dgh(10.0, 0.25) == pytest.approx(1.337, abs=1e-3)
    assert calcium_mmol_l_from_dgh(10.0, 1.0) == 0.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: calcium_mmol_l_from_dgh(5.0, 25.0), "^magnesium_share: .*; 25 % is 0.25"),
        (lambda: calcium_mmol_l_from_dgh(-5.0), "^gh_dgh: a hardness is not negative"),
    ],
)
def test_what_cannot_be_is_refused_with_place_and_remedy(call, words):
    with pytest.raises(ValueError, match=words):
        call()
