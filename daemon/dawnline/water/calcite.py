"""Does shell dissolve here? Saturation of the water with calcite, of which oyster shell is made."""

from __future__ import annotations

from math import log10

from dawnline.water.conditional import Conditional
from dawnline.water.constants import calcite_solubility
from dawnline.water.equilibrium import Equilibrium, equilibrium
from dawnline.water.ranges import refusal


def calcite_saturation_index(
    alkalinity_meq_l: float,
    ph: float,
    temperature_c: float,
    calcium_mmol_l: float | None = None,
) -> float:
    """log10 of the ion product of calcite over its solubility: below 0 shell dissolves, above 0 lime may form.

    Calcium is by default half the alkalinity, as in calcium bicarbonate water; its ion pairs are counted. Against
    PHREEQC within 0.01 from 0.25 to 4 meq/L at 5 to 25 degC; what the pH reading is wrong by comes on top, one to
    one. Raises ValueError as `equilibrium` does, and where there is no calcium or no carbonate at all.

    >>> round(calcite_saturation_index(4.0, 8.0, 15.0), 1)  # PHREEQC: 0.70
    0.7
    """
    calcium = alkalinity_meq_l / 2.0 if calcium_mmol_l is None else calcium_mmol_l
    water = equilibrium(
        temperature_c,
        ph=ph,
        alkalinity_meq_l=alkalinity_meq_l,
        calcium_mmol_l=calcium,
    )
    return saturation_index(water, calcite_solubility(temperature_c))


def saturation_index(water: Equilibrium, solubility: float) -> float:
    """log10 of the ion product of calcium carbonate over a mineral's solubility [mol2/L2].

    Raises ValueError where there is no calcium or no carbonate.

    >>> lime = equilibrium(15.0, ph=8.0, alkalinity_meq_l=1.0, calcium_mmol_l=0.5)
    >>> round(saturation_index(lime, calcite_solubility(15.0)), 1)  # PHREEQC: -0.40
    -0.4
    """
    if not water.ion_product > 0.0:
        found = f"{water.calcium_mmol_l} mmol/L of calcium, {water.alkalinity_meq_l} meq/L"
        raise refusal("saturation_index", "no saturation without calcium and carbonate", found, "test GH and KH")
    return log10(water.ion_product / solubility)


def saturation_ratio(calcium: float, co2: float, a: float, k: Conditional, temperature_c: float) -> float:
    """Ion product of calcite over its solubility, without ion pairs: for those who step through time.

    Concentrations in mol/L, `a` the hydrogen activity. At most 5 % too high up to 1 meq/L, 15 % at 2, 32 % at 4.

    >>> from dawnline.water.conditional import conditional
    >>> round(saturation_ratio(0.0005, 2e-5, 1e-8, conditional(15.0, 0.0015), 15.0), 2)
    0.32
    """
    carbonate = co2 * k.k1 * k.k2 / (a * a)
    return float(calcium * carbonate * k.gamma**8 / calcite_solubility(temperature_c))
