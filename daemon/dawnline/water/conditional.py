"""The constants as they act in one water: at its temperature and ionic strength."""

from __future__ import annotations

from typing import NamedTuple

from dawnline.water.activity import IONIC_STRENGTH_PER_ALKALINITY, davies
from dawnline.water.constants import first_dissociation, second_dissociation, water_dissociation


class Conditional(NamedTuple):
    """Constants between concentrations [mol/L] and the hydrogen activity a = 10^-pH.

    [HCO3-] = k1 [CO2]/a, [CO3--] = k2 [HCO3-]/a, [OH-] = kw/a, [H+] = a/gamma; `gamma` is the activity
    coefficient of a singly charged ion, that of CO2 is taken as 1.
    """

    k1: float
    k2: float
    kw: float
    gamma: float


def conditional(temperature_c: float, ionic_strength: float) -> Conditional:
    """Plummer and Busenberg (1982) constants with Davies activity coefficients; ionic strength in mol/L.

    Raises ValueError outside 0 to 50 degC and for a negative ionic strength.

    >>> from math import log10
    >>> round(-log10(conditional(25.0, 0.0).k1), 3)
    6.352
    """
    gamma = davies(ionic_strength, temperature_c)
    return Conditional(
        first_dissociation(temperature_c) / gamma,
        second_dissociation(temperature_c) / gamma**3,  # gamma of CO3-- is gamma^4
        water_dissociation(temperature_c) / gamma,
        gamma,
    )


def ionic_strength_from_alkalinity(alkalinity_meq_l: float) -> float:
    """Ionic strength [mol/L] of calcium bicarbonate water; none where no alkalinity is left.

    >>> ionic_strength_from_alkalinity(2.0)
    0.003
    """
    return IONIC_STRENGTH_PER_ALKALINITY * max(alkalinity_meq_l, 0.0) / 1000.0
