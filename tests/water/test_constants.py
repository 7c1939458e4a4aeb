"""The constants against printed values of Plummer and Busenberg (1982) and phreeqc.dat."""

from __future__ import annotations

from math import log10

import pytest

from dawnline.water.activity import davies, debye_hueckel_a
from dawnline.water.constants import (
    aragonite_solubility,
    bicarbonate_pairing,
    calcite_solubility,
    carbonate_pairing,
    first_dissociation,
    henry,
    second_dissociation,
    water_dissociation,
)

FORMULAS = (
    *(first_dissociation, second_dissociation, henry, water_dissociation),
    *(calcite_solubility, aragonite_solubility, bicarbonate_pairing, carbonate_pairing),
)


@pytest.mark.parametrize(
    ("formula", "pk"),
    [
        (first_dissociation, 6.352),
        (second_dissociation, 10.329),
        (henry, 1.468),
        (water_dissociation, 14.000),
        (calcite_solubility, 8.480),
        (aragonite_solubility, 8.336),
        (bicarbonate_pairing, -1.106),
    ],
)
def test_published_anchors_at_25_degc(formula, pk):
    # Plummer and Busenberg 1982; phreeqc.dat (CO2 + H2O, HCO3-, CO2(g), H2O, Calcite, Aragonite);
    # wateq4f.dat (CaHCO3+)
    assert -log10(formula(25.0)) == pytest.approx(pk, abs=0.0007)


def test_the_pair_of_carbonate_at_25_degc():
    # phreeqc.dat gives log K 3.224 beside the formula, which it uses and which makes 3.226
    assert log10(carbonate_pairing(25.0)) == pytest.approx(3.224, abs=0.003)


def test_first_and_second_dissociation_over_temperature():
    # Plummer and Busenberg 1982, printed table at 0 to 30 degC, from memory: to 0.01 and one digit of slack
    printed = {
        0: (6.58, 10.63),
        5: (6.52, 10.56),
        10: (6.46, 10.49),
        15: (6.42, 10.43),
        20: (6.38, 10.38),
        25: (6.35, 10.33),
        30: (6.33, 10.29),
    }
    for celsius, (pk1, pk2) in printed.items():
        assert -log10(first_dissociation(celsius)) == pytest.approx(pk1, abs=0.01)
        assert -log10(second_dissociation(celsius)) == pytest.approx(pk2, abs=0.01)


@pytest.mark.parametrize("formula", FORMULAS)
@pytest.mark.parametrize("celsius", [-0.1, 50.1, float("nan"), float("inf")])
def test_outside_the_valid_range_is_refused_in_words(formula, celsius):
    with pytest.raises(ValueError, match="0 to 50 degC"):
        formula(celsius)


@pytest.mark.parametrize("formula", FORMULAS)
def test_the_ends_of_the_range_are_inside(formula):
    assert formula(0.0) > 0.0
    assert formula(50.0) > 0.0


def test_debye_hueckel_parameter_is_the_textbook_one():
    # 0.509 at 25 degC and 0.491 at 0 degC: Stumm and Morgan, Aquatic Chemistry, from memory
    assert debye_hueckel_a(25.0) == pytest.approx(0.509, abs=0.002)
    assert debye_hueckel_a(0.0) == pytest.approx(0.491, abs=0.002)
    with pytest.raises(ValueError, match="0 to 50 degC"):
        debye_hueckel_a(51.0)


def test_davies_is_one_without_ions_and_refuses_a_negative_ionic_strength():
    assert davies(0.0, 15.0) == 1.0
    assert davies(0.003, 25.0) < davies(0.0015, 25.0) < 1.0
    for strength in (-0.001, 0.51, float("nan")):
        with pytest.raises(ValueError, match=r"^ionic_strength: .* 0 and 0.5 mol/L"):
            davies(strength, 15.0)
