"""Does shell dissolve here? Saturation of the water with calcite."""

from __future__ import annotations

from math import log10

from dawnline.water.carbonate import co2_from_ph
from dawnline.water.conditional import Conditional, conditional, ionic_strength_from_alkalinity
from dawnline.water.constants import calcite_solubility


def calcite_saturation_index(
    alkalinity_meq_l: float,
    ph: float,
    temperature_c: float,
    calcium_mmol_l: float | None = None,
    ionic_strength: float | None = None,
) -> float:
    """log10 of the ion product of calcite over its solubility: below 0 shell dissolves, above 0 lime may
    form.

    Calcium is by default half the alkalinity, as in calcium bicarbonate water. No ion pairs: against
    PHREEQC at most 0.02 too high up to 1 meq/L, 0.06 at 2, 0.12 at 4. Raises ValueError as `co2_from_ph`
    does, and where there is no calcium or no carbonate at all.

    >>> round(calcite_saturation_index(1.0, 8.0, 15.0), 1)  # PHREEQC: -0.40
    -0.4
    """
    calcium = alkalinity_meq_l / 2.0 if calcium_mmol_l is None else calcium_mmol_l
    if ionic_strength is None:
        ionic_strength = ionic_strength_from_alkalinity(alkalinity_meq_l)
    co2 = co2_from_ph(alkalinity_meq_l, ph, temperature_c, ionic_strength) * 1e-6
    ratio = saturation_ratio(calcium * 1e-3, co2, 10.0**-ph, conditional(temperature_c, ionic_strength), temperature_c)
    if not ratio > 0.0:
        raise ValueError(f"no saturation without calcium and carbonate: {calcium} mmol/L, {alkalinity_meq_l} meq/L")
    return log10(ratio)


def saturation_ratio(calcium: float, co2: float, a: float, k: Conditional, temperature_c: float) -> float:
    """Ion product of calcite over its solubility; concentrations in mol/L, `a` the hydrogen activity.

    >>> round(saturation_ratio(0.0005, 2e-5, 1e-8, conditional(15.0, 0.0015), 15.0), 2)
    0.32
    """
    carbonate = co2 * k.k1 * k.k2 / (a * a)
    return float(calcium * carbonate * k.gamma**8 / calcite_solubility(temperature_c))
