"""The solver in all directions, with calcium: against PHREEQC's tables, and itself run from any two of its four."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnline.water.carbonate import ph_from_co2, ph_from_dic
from dawnline.water.constants import (
    bicarbonate_pairing,
    carbonate_pairing,
    first_dissociation,
    second_dissociation,
    water_dissociation,
)
from dawnline.water.equilibrium import equilibrium
from dawnline.water.pairs import pairs

from .waters import at_a_fixed_co2, in_balance_with_air, on_the_crash_curve

FOUR = ("ph", "alkalinity_meq_l", "co2_umol_l", "dic_umol_l")


def test_ph_in_balance_with_air_and_at_a_fixed_co2(table):
    for each in (*in_balance_with_air(table), *at_a_fixed_co2(table)):
        calcium = each.alkalinity / 2
        water = equilibrium(each.celsius, alkalinity_meq_l=each.alkalinity, co2_umol_l=each.co2, calcium_mmol_l=calcium)
        assert water.ph == pytest.approx(each.ph, abs=0.003), each


def test_crash_curve(table):
    for each in on_the_crash_curve(table):
        water = equilibrium(each.celsius, alkalinity_meq_l=each.alkalinity, co2_umol_l=each.co2, calcium_mmol_l=1.0)
        assert water.ph == pytest.approx(each.ph, abs=0.004), each


def test_pairs_take_up_what_their_constants_say():
    # At zero ionic strength, so that activities are concentrations
    water = equilibrium(15.0, ph=8.5, alkalinity_meq_l=3.0, calcium_mmol_l=2.0, ionic_strength=0.0)
    free, carbonate, a = water.free_calcium, water.free_carbonate, 10**-8.5
    bicarbonate = carbonate * a / second_dissociation(15.0)
    one, two = bicarbonate_pairing(15.0) * free * bicarbonate, carbonate_pairing(15.0) * free * carbonate
    assert free + one + two == pytest.approx(2.0e-3, rel=1e-6)
    assert water.co2_umol_l == pytest.approx(a * bicarbonate / first_dissociation(15.0) * 1e6, rel=1e-6)
    assert water.dic_umol_l == pytest.approx(water.co2_umol_l + (bicarbonate + carbonate + one + two) * 1e6, rel=1e-6)
    hydroxide = water_dissociation(15.0) / a
    assert bicarbonate + one + 2.0 * (carbonate + two) + hydroxide - a == pytest.approx(3.0e-3, rel=1e-6)


def test_a_pair_obeys_its_constant_in_activities():
    # K = a(CaHCO3+) / (a(Ca++) a(HCO3-)), with gamma, gamma^4, gamma; CaCO3 carries no charge
    gamma = 0.9
    pair = pairs(15.0, gamma)
    assert pair.b1 * gamma / (gamma**4 * gamma) == pytest.approx(bicarbonate_pairing(15.0))
    assert pair.b2 / (gamma**4 * gamma**4) == pytest.approx(carbonate_pairing(15.0))


def test_carbonate_counts_four_times_in_the_ionic_strength():
    # 1 mmol/L Na2CO3, of which x has become HCO3- and OH-: I = (2 + x + x + 4 (1 - x)) / 2 = 3 - x
    water = equilibrium(25.0, alkalinity_meq_l=2.0, dic_umol_l=1000.0, calcium_mmol_l=0.0)
    assert water.ionic_strength == pytest.approx(3.0e-3 - (1.0e-3 - water.free_carbonate), rel=2e-3)


waters = st.fixed_dictionaries(
    {"ph": st.floats(4.5, 9.5), "alkalinity_meq_l": st.floats(0.5, 8.0), "temperature_c": st.floats(0.0, 50.0)}
)


@given(waters, st.one_of(st.none(), st.floats(0.0, 6.0)))
def test_any_two_give_the_other_two(start, calcium):
    water = equilibrium(**start, calcium_mmol_l=calcium)
    assert 0.0 <= water.co2_umol_l < water.dic_umol_l
    for two in combinations(FOUR, 2):
        known = {name: getattr(water, name) for name in two}
        again = equilibrium(start["temperature_c"], **known, calcium_mmol_l=calcium)
        assert [getattr(again, name) for name in FOUR] == pytest.approx(
            [getattr(water, name) for name in FOUR], rel=1e-4
        )


@given(st.floats(0.1, 6.0), st.floats(1.0, 3000.0), st.floats(0.0, 50.0))
def test_without_calcium_it_is_the_fast_solver(alkalinity, carbon, celsius):
    by_co2 = equilibrium(celsius, alkalinity_meq_l=alkalinity, co2_umol_l=carbon)
    by_dic = equilibrium(celsius, alkalinity_meq_l=alkalinity, dic_umol_l=carbon)
    assert by_co2.ph == pytest.approx(ph_from_co2(alkalinity, carbon, celsius), abs=1e-7)
    assert by_dic.ph == pytest.approx(ph_from_dic(alkalinity, carbon, celsius), abs=1e-7)
    assert by_co2.ion_product == 0.0


@given(st.floats(0.2, 6.0), st.floats(5.0, 500.0), st.floats(0.0, 30.0), st.floats(0.01, 5.0))
def test_pairs_lower_the_ph_a_little_and_never_take_more_calcium_than_there_is(alkalinity, co2, celsius, calcium):
    plain = equilibrium(celsius, alkalinity_meq_l=alkalinity, co2_umol_l=co2, calcium_mmol_l=0.0, ionic_strength=0.005)
    hard = equilibrium(
        celsius, alkalinity_meq_l=alkalinity, co2_umol_l=co2, calcium_mmol_l=calcium, ionic_strength=0.005
    )
    assert hard.ph < plain.ph
    assert 0.0 < hard.free_calcium < calcium * 1e-3


@pytest.mark.parametrize(
    ("known", "place"),
    [
        ({"ph": 7.0}, "exactly two of pH"),
        ({"ph": 7.0, "co2_umol_l": 10.0, "dic_umol_l": 1000.0}, "exactly two of pH"),
        ({"ph": 71.0, "co2_umol_l": 10.0}, "^ph: a pH lies between 0 and 14, found 71.0; read"),
        ({"ph": 7.0, "co2_umol_l": -1.0}, "^co2_umol_l: CO2 is not negative"),
        ({"ph": 7.0, "dic_umol_l": float("inf")}, "^dic_umol_l: DIC is not negative, and finite"),
        ({"ph": 7.0, "alkalinity_meq_l": float("nan")}, "^alkalinity_meq_l: .* converts"),
        ({"ph": 7.0, "alkalinity_meq_l": 1.0, "calcium_mmol_l": -1.0}, "^calcium_mmol_l: calcium is not negative"),
        ({"ph": 7.0, "alkalinity_meq_l": 1.0, "ionic_strength": 0.6}, "^ionic_strength: .* between 0 and 0.5 mol/L"),
        ({"ph": 7.0, "alkalinity_meq_l": 1000.0}, "^ionic_strength: .* look at the unit"),
        ({"ph": 11.0, "alkalinity_meq_l": 0.01}, "^alkalinity_meq_l: .* even with no carbon"),
        ({"co2_umol_l": 10.0, "dic_umol_l": 10.0}, "^dic_umol_l: there is more than 10.0 umol/L"),
        ({"co2_umol_l": 0.0, "dic_umol_l": 10.0}, "^co2_umol_l: .* above 0"),
    ],
)
def test_what_cannot_be_is_refused_with_place_and_remedy(known, place):
    with pytest.raises(ValueError, match=place) as refused:
        equilibrium(15.0, **known)
    assert "; " in str(refused.value)
    with pytest.raises(ValueError, match=r"^temperature_c: the constants hold from 0 to 50 degC, found 59.0; "):
        equilibrium(59.0, ph=7.0, alkalinity_meq_l=1.0)
