"""Inorganic carbon over alkalinity, u = DIC / A: what a night's breathing adds to and gas exchange takes from.

With A nearly all bicarbonate and carbonate, u follows from pH alone; no alkalinity need be known. Breathing adds to u
at a steady rate and pH does not fall steadily by it: from pH 9 down it falls late and fast, near 6.5 slowly. Stumm and
Morgan (1996), Aquatic Chemistry, chapter 4; constants of Plummer and Busenberg (1982) at 17 degC. The water's own
temperature changes them by a few percent over a night, which is little beside a night's change of u.
"""

from __future__ import annotations

from math import exp, expm1, log10, sqrt
from typing import Final

from dawnline.water.constants import first_dissociation, second_dissociation

TYPICAL_C: Final = 17.0
K1: Final = first_dissociation(TYPICAL_C)
K2: Final = second_dissociation(TYPICAL_C)
_LN10: Final = 2.302585092994046


def carbon_of(ph: float) -> float:
    """u = (1 + y/K1 + K2/y) / (1 + 2 K2/y) with y = 10^-pH.

    >>> round(carbon_of(7.4), 3), round(carbon_of(6.4), 2)
    (1.1, 2.01)
    """
    y = exp(-_LN10 * ph)
    carbonate = K2 / y
    return (1.0 + y / K1 + carbonate) / (1.0 + 2.0 * carbonate)


def ph_of(carbon: float) -> float:
    """The pH that belongs to u: y = K1/2 [(u - 1) + sqrt((1 - u)^2 - 4 K2 (1 - 2u)/K1)]; u above 0.5 [mol/eq].

    >>> round(ph_of(carbon_of(9.2)), 6), round(ph_of(carbon_of(5.5)), 6)
    (9.2, 5.5)
    """
    u = max(carbon, 0.5001)
    y = K1 / 2.0 * ((u - 1.0) + sqrt((1.0 - u) ** 2 - 4.0 * K2 * (1.0 - 2.0 * u) / K1))
    return -log10(y)


def relaxing(rate_per_hour: float, hours: float) -> float:
    """Hours that a surplus goes on for, when exchange takes `rate_per_hour` of what it has brought: (1 - e^-kt)/k.

    >>> round(relaxing(0.1, 5.0), 2), relaxing(0.0, 5.0)
    (3.93, 5.0)
    """
    return hours if rate_per_hour <= 0 else -expm1(-rate_per_hour * hours) / rate_per_hour
