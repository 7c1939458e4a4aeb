"""Does coral sand dissolve here? Saturation of the water with aragonite, of which corals and many clam shells are."""

from __future__ import annotations

from dawnline.water.calcite import saturation_index
from dawnline.water.constants import aragonite_solubility
from dawnline.water.equilibrium import equilibrium


def aragonite_saturation_index(
    alkalinity_meq_l: float,
    ph: float,
    temperature_c: float,
    calcium_mmol_l: float | None = None,
    ionic_strength: float | None = None,
) -> float:
    """log10 of the ion product of aragonite over its solubility: below 0 it dissolves.

    Aragonite dissolves a little longer than calcite: its index is 0.14 to 0.16 lower. Calcium is by default half
    the alkalinity; its ion pairs are counted. Accuracy and errors as for `calcite_saturation_index`.

    >>> round(aragonite_saturation_index(4.0, 8.0, 15.0), 2)
    0.55
    """
    water = equilibrium(
        temperature_c,
        ph=ph,
        alkalinity_meq_l=alkalinity_meq_l,
        calcium_mmol_l=alkalinity_meq_l / 2.0 if calcium_mmol_l is None else calcium_mmol_l,
        ionic_strength=ionic_strength,
    )
    return saturation_index(water, aragonite_solubility(temperature_c))
