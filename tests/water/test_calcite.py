"""Does shell dissolve here? Calcite and aragonite against PHREEQC's tables."""

from __future__ import annotations

import pytest

from dawnline.water.aragonite import aragonite_saturation_index
from dawnline.water.calcite import calcite_saturation_index, saturation_ratio
from dawnline.water.carbonate import co2_from_ph
from dawnline.water.conditional import conditional

LAST_DIGIT = 0.005


def test_calcite_saturation(table):
    rows = table("calcite_saturation.csv")
    assert len(rows) == 75
    for row in rows:
        index = calcite_saturation_index(row["alkalinity_meq_l"], row["ph"], row["temperature_c"])
        assert index == pytest.approx(row["si_calcite"], abs=0.01 + LAST_DIGIT), row


def test_calcite_saturation_in_balance_with_air(table):
    for row in table("ph_at_air_equilibrium.csv"):
        index = calcite_saturation_index(row["alkalinity_meq_l"], row["ph"], row["temperature_c"])
        assert index == pytest.approx(row["si_calcite"], abs=0.01 + LAST_DIGIT), row


def test_calcite_in_balance_with_air_is_just_saturated():
    # PHREEQC with phreeqc.dat: calcite and air at 5, 15, 25 degC; Ca in mmol/L, alkalinity twice that
    for celsius, ph, calcium in ((5.0, 8.233, 0.751), (15.0, 8.212, 0.636), (25.0, 8.201, 0.541)):
        assert calcite_saturation_index(2.0 * calcium, ph, celsius) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("celsius", [0.0, 15.0, 30.0])
def test_aragonite_dissolves_where_calcite_no_longer_does(celsius):
    lower = calcite_saturation_index(2.0, 7.9, celsius) - aragonite_saturation_index(2.0, 7.9, celsius)
    assert 0.13 < lower < 0.17
    # At 25 degC log K is -8.480 and -8.336: phreeqc.dat


def test_more_calcium_and_more_ph_saturate():
    assert calcite_saturation_index(1.0, 8.0, 15.0, 2.0) > calcite_saturation_index(1.0, 8.0, 15.0, 0.5) + 0.4
    assert calcite_saturation_index(1.0, 8.0, 15.0) > calcite_saturation_index(1.0, 7.0, 15.0) + 0.9


def test_the_quick_ratio_is_too_high_by_what_it_says():
    for alkalinity, slack in ((0.25, 0.05), (1.0, 0.05), (2.0, 0.15), (4.0, 0.32)):
        for celsius in (5.0, 25.0):
            k = conditional(celsius, 1.5e-3 * alkalinity)
            co2 = co2_from_ph(alkalinity, 7.5, celsius) * 1e-6
            quick = saturation_ratio(alkalinity / 2000.0, co2, 10**-7.5, k, celsius)
            true = 10.0 ** calcite_saturation_index(alkalinity, 7.5, celsius)
            assert 1.0 < quick / true < 1.0 + slack


@pytest.mark.parametrize("index", [calcite_saturation_index, aragonite_saturation_index])
def test_without_calcium_there_is_no_saturation(index):
    with pytest.raises(ValueError, match=r"no saturation without calcium .*; test GH and KH"):
        index(1.0, 8.0, 15.0, calcium_mmol_l=0.0)
