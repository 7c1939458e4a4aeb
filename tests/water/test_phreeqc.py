"""Carbonate equilibrium beside a live PHREEQC (phreeqc.dat through phreeqpython)."""

from __future__ import annotations

import os

import pytest

from dawnline.water.carbonate import ph_from_co2, ph_from_dic


@pytest.fixture(scope="module")
def phreeqc():
    try:
        from phreeqpython import PhreeqPython

        return PhreeqPython(database="phreeqc.dat")
    except (ImportError, OSError) as reason:
        if os.environ.get("DAWNLINE_TEST_ALL") == "1":
            pytest.fail(f"phreeqpython is not usable here: {reason}")
        pytest.skip(f"phreeqpython is not usable here: {reason}")


@pytest.mark.parametrize("celsius", [2.0, 12.0, 22.0])
@pytest.mark.parametrize(("alkalinity", "slack"), [(0.1, 0.006), (0.7, 0.006), (2.0, 0.015), (4.0, 0.045)])
def test_ph_at_fixed_co2_and_at_fixed_dic(phreeqc, celsius, alkalinity, slack):
    solution = phreeqc.add_solution_simple({"Ca(HCO3)2": alkalinity / 2}, temperature=celsius)
    solution.equalize(["CO2(g)"], [-3.0])
    assert ph_from_co2(alkalinity, solution.species["CO2"] * 1e6, celsius) == pytest.approx(solution.pH, abs=slack)
    # From DIC the pH is well determined only where CO2 is a fair part of it: near pH 8.3 ion pairs tell most.
    solution.equalize(["CO2(g)"], [-2.0])
    dic = solution.total_element("C") * 1e3
    assert ph_from_dic(alkalinity, dic, celsius) == pytest.approx(solution.pH, abs=slack)
    solution.forget()
