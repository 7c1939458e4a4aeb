"""pH after a dose and after a change of water beside a live PHREEQC, within 0.05; published amounts."""

from __future__ import annotations

from itertools import product
from math import log10

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.water.doses import (
    aired,
    bicarbonate_g,
    mixed,
    oxygen_for_acetic,
    water_of,
    with_bicarbonate,
    with_vinegar,
)
from dawnline.water.units import meq_l_from_dkh

AIR = log10(425e-6)
CELSIUS = (5.0, 15.0, 25.0)


def filled(phreeqc, alkalinity: float, log_pco2: float, celsius: float):
    solution = phreeqc.add_solution_simple({"Ca(HCO3)2": alkalinity / 2}, temperature=celsius)
    solution.equalize(["CO2(g)"], [log_pco2])
    return solution


@pytest.mark.parametrize("celsius", CELSIUS)
@pytest.mark.parametrize(
    ("alkalinity", "log_pco2", "added"),
    list(product((0.1, 0.5, 1.0, 2.0), (-3.4, -2.5, -1.5), (0.1, 0.357, 1.5))),
)
def test_bicarbonate_at_once_and_in_balance_with_the_air(phreeqc, celsius, alkalinity, log_pco2, added):
    solution = filled(phreeqc, alkalinity, log_pco2, celsius)
    ours = with_bicarbonate(water_of(alkalinity, solution.pH, celsius), added)
    solution.add("NaHCO3", added)
    assert ours.ph == pytest.approx(solution.pH, abs=0.05)
    solution.equalize(["CO2(g)"], [AIR])
    assert aired(ours).ph == pytest.approx(solution.pH, abs=0.05)
    solution.forget()


@pytest.mark.parametrize("share", [0.1, 0.25, 0.5])
@pytest.mark.parametrize(
    ("pond", "source"),
    [((0.5, -2.8), (2.5, -2.0)), ((2.5, -3.6), (0.5, -3.0)), ((0.15, -1.8), (1.5, -2.5)), ((1.0, -3.4), (4.0, -1.7))],
)
@pytest.mark.parametrize(("warm", "cold"), [(15.0, 15.0), (22.0, 12.0)])
def test_a_water_change_at_once_and_in_balance_with_the_air(phreeqc, share, pond, source, warm, cold):
    one, two = filled(phreeqc, *pond, warm), filled(phreeqc, *source, cold)
    ours = mixed(water_of(pond[0], one.pH, warm), water_of(source[0], two.pH, cold), share)
    blend = phreeqc.mix_solutions({one: 1.0 - share, two: share})
    blend.change_temperature(ours.temperature_c)
    assert ours.ph == pytest.approx(blend.pH, abs=0.05)
    blend.equalize(["CO2(g)"], [AIR])
    assert aired(ours).ph == pytest.approx(blend.pH, abs=0.05)
    for each in (one, two, blend):
        each.forget()


@pytest.mark.parametrize("kh", [1.0, 3.0, 6.0])
@pytest.mark.parametrize("celsius", CELSIUS)
def test_vinegar_as_an_acid_that_gives_up_all_its_hydrogen(phreeqc, kh, celsius):
    alkalinity = meq_l_from_dkh(kh)
    solution = phreeqc.add_solution_simple({"Ca(HCO3)2": alkalinity / 2}, temperature=celsius)
    solution.equalize(["CO2(g)"], [-4.0])
    ours = with_vinegar(water_of(alkalinity, solution.pH, celsius), 31.25, 1000.0)
    solution.add("HCl", 31.25 * 50.0 / 60.052 / 1000.0)
    assert ours.ph == pytest.approx(solution.pH, abs=0.05)
    solution.forget()


# ------------------------------------------------------------ published and common-practice values


def test_grams_of_bicarbonate():
    """From molar masses (IUPAC): 84.007 g a meq/L and 29.961 g a degree in each cubic metre; 599.2 g for 2 in 10 m3."""
    assert bicarbonate_g(1.0, 1000.0) == pytest.approx(84.007, abs=0.001)
    assert bicarbonate_g(meq_l_from_dkh(1.0), 1000.0) == pytest.approx(29.961, abs=0.001)
    assert bicarbonate_g(meq_l_from_dkh(2.0), 10_000.0) == pytest.approx(599.2, abs=0.05)


def test_vinegar_uses_about_its_own_mass_in_oxygen():
    assert oxygen_for_acetic(1.0) == pytest.approx(1.0657, abs=0.001)


US, IMPERIAL = (236.5882365 / 4.0, 500.0 * 3.785411784), (284.130625 / 4.0, 500.0 * 4.54609)


@pytest.mark.parametrize(("cup", "gallons"), [US, IMPERIAL], ids=["US", "imperial"])
@pytest.mark.parametrize(("kh", "fall"), [(1.0, 0.94), (3.0, 0.38), (6.0, 0.16)])
def test_a_quarter_cup_in_500_gallons(cup, gallons, kh, fall):
    """Common practice calls a quarter cup of white vinegar per 500 gallons a cautious step. In soft water it is none.

    At pH 8.5 and 20 degC the chemistry gives nearly a whole unit at 1 dKH, in US measure and in imperial alike: both
    cups are a sixteenth of their gallon.
    """
    water = water_of(meq_l_from_dkh(kh), 8.5, 20.0)
    assert water.ph - with_vinegar(water, cup, gallons).ph == pytest.approx(fall, abs=0.01)


@settings(max_examples=60)
@given(st.floats(0.05, 4.0), st.floats(6.0, 9.0), st.floats(0.0, 35.0), st.floats(0.0, 2.0))
def test_bicarbonate_never_lowers_the_alkalinity_and_balance_goes_with_it(alkalinity, ph, celsius, added):
    before = water_of(alkalinity, ph, celsius)
    after = with_bicarbonate(before, added)
    assert after.alkalinity_meq_l == pytest.approx(alkalinity + added)
    assert aired(after).ph >= aired(before).ph - 1e-6


@settings(max_examples=60)
@given(st.floats(0.05, 4.0), st.floats(0.05, 4.0), st.floats(0.0, 1.0))
def test_a_change_of_like_water_changes_nothing(alkalinity, other, share):
    own = water_of(alkalinity, 7.5, 18.0)
    assert mixed(own, own, share) == pytest.approx(own)
    blend = mixed(own, water_of(other, 7.5, 18.0), share)
    assert min(alkalinity, other) - 1e-9 <= blend.alkalinity_meq_l <= max(alkalinity, other) + 1e-9
