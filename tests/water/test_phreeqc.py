"""Carbonate system, minerals and rate beside a live PHREEQC (phreeqc.dat through phreeqpython)."""

from __future__ import annotations

import pytest

from dawnline.water.aragonite import aragonite_saturation_index
from dawnline.water.calcite import calcite_saturation_index
from dawnline.water.carbonate import ph_from_co2, ph_from_dic
from dawnline.water.dissolution import clean_rate
from dawnline.water.equilibrium import equilibrium

CELSIUS = (5.0, 10.0, 15.0, 20.0, 25.0)
ALKALINITIES = (0.25, 0.5, 1.0, 2.0, 3.0, 4.0)
LOG_PCO2 = (-4.0, -3.38, -2.5, -1.5)  # from a quarter of the air's to seventy times it
# name: (mmol/L of salts at this alkalinity, mmol/L of calcium)
WATERS = {
    "calcium bicarbonate": lambda alk: ({"Ca(HCO3)2": alk / 2}, alk / 2),
    "softened": lambda alk: ({"Ca(HCO3)2": alk / 8, "NaHCO3": 3 * alk / 4}, alk / 8),
    "hard": lambda alk: ({"Ca(HCO3)2": alk / 2, "CaCl2": 1.0}, alk / 2 + 1.0),
}


@pytest.mark.parametrize("celsius", CELSIUS)
@pytest.mark.parametrize("alkalinity", ALKALINITIES)
@pytest.mark.parametrize("water", WATERS)
def test_ph_within_a_hundredth_and_saturation_within_three(phreeqc, celsius, alkalinity, water):
    salts, calcium = WATERS[water](alkalinity)
    for pressure in LOG_PCO2:
        solution = phreeqc.add_solution_simple(salts, temperature=celsius)
        solution.equalize(["CO2(g)"], [pressure])
        species = solution.species
        co2 = species["CO2"] * 1e6
        dic = sum(amount for name, amount in species.items() if "CO" in name) * 1e6
        ours = {
            "co2": equilibrium(celsius, alkalinity_meq_l=alkalinity, co2_umol_l=co2, calcium_mmol_l=calcium).ph,
            "dic": equilibrium(celsius, alkalinity_meq_l=alkalinity, dic_umol_l=dic, calcium_mmol_l=calcium).ph,
        }
        # Sodium's pairs, which we leave out, cost a little more where it carries all: from DIC, at pH 9.3.
        slack = 0.015 if water == "softened" else 0.01
        assert ours == pytest.approx({"co2": solution.pH, "dic": solution.pH}, abs=slack)
        for ph in (solution.pH, ours["co2"]):
            calcite = calcite_saturation_index(alkalinity, ph, celsius, calcium)
            aragonite = aragonite_saturation_index(alkalinity, ph, celsius, calcium)
            assert calcite == pytest.approx(solution.si("Calcite"), abs=0.03)
            assert aragonite == pytest.approx(solution.si("Aragonite"), abs=0.03)
        solution.forget()


@pytest.mark.parametrize("celsius", [5.0, 25.0])
def test_alkalinity_and_carbon_come_from_ph(phreeqc, celsius):
    solution = phreeqc.add_solution_simple({"Ca(HCO3)2": 1.5}, temperature=celsius)
    solution.equalize(["CO2(g)"], [-2.5])
    co2 = solution.species["CO2"] * 1e6
    # 0.001 of pH, as far as we and PHREEQC differ, is 0.25 % of either
    water = equilibrium(celsius, ph=solution.pH, co2_umol_l=co2, calcium_mmol_l=1.5)
    assert water.alkalinity_meq_l == pytest.approx(3.0, rel=0.005)
    assert water.ionic_strength == pytest.approx(solution.I, rel=0.01)
    water = equilibrium(celsius, ph=solution.pH, alkalinity_meq_l=3.0, calcium_mmol_l=1.5)
    assert water.co2_umol_l == pytest.approx(co2, rel=0.005)
    solution.forget()


@pytest.mark.parametrize("celsius", [2.0, 12.0, 22.0])
@pytest.mark.parametrize(("alkalinity", "slack"), [(0.1, 0.006), (0.7, 0.006), (2.0, 0.015), (4.0, 0.045)])
def test_the_fast_way_without_calcium_is_off_by_as_much_as_it_says(phreeqc, celsius, alkalinity, slack):
    solution = phreeqc.add_solution_simple({"Ca(HCO3)2": alkalinity / 2}, temperature=celsius)
    solution.equalize(["CO2(g)"], [-3.0])
    assert ph_from_co2(alkalinity, solution.species["CO2"] * 1e6, celsius) == pytest.approx(solution.pH, abs=slack)
    # From DIC the pH is well determined only where CO2 is a fair part of it: near pH 8.3 ion pairs tell most.
    solution.equalize(["CO2(g)"], [-2.0])
    dic = solution.total_element("C") * 1e3
    assert ph_from_dic(alkalinity, dic, celsius) == pytest.approx(solution.pH, abs=slack)
    solution.forget()


@pytest.mark.parametrize(
    ("celsius", "ph", "alkalinity"), [(5.0, 6.5, 0.5), (15.0, 7.0, 1.0), (25.0, 7.3, 2.0), (30.0, 5.0, 0.1)]
)
def test_clean_calcite_dissolves_as_fast_as_its_rate_block(phreeqc, celsius, ph, alkalinity):
    # One square metre (10000 cm2 a mole, one mole) in a kilogram of water, for so short a time that it stays as it is.
    script = f"""
        SOLUTION 900
            temp {celsius}
            pH {ph}
            units mmol/kgw
            Ca {alkalinity / 2}
            Alkalinity {alkalinity}
        KINETICS 900
            Calcite
                -m0 1
                -parms 10000 0
                -steps 0.01
        SELECTED_OUTPUT 1
            -reset false
            -kinetic_reactants Calcite
        USE solution 900
        USE kinetics 900
        END
    """
    phreeqc.ip.run_string(script)
    names, *rows = phreeqc.ip.get_selected_output_array()
    dissolved = -rows[-1][names.index("dk_Calcite")] * 100.0 * 1000.0 * 86400.0
    water = equilibrium(celsius, ph=ph, alkalinity_meq_l=alkalinity, calcium_mmol_l=alkalinity / 2)
    assert dissolved > 1.0
    assert clean_rate(water) == pytest.approx(dissolved, rel=0.02)
