"""Calcium's ion pairs: part of the bicarbonate and carbonate of hard water is bound as CaHCO3+ and CaCO3(aq).

For one free calcium the pairs are but larger dissociation constants: [HCO3-] + [CaHCO3+] = (1 + b1 [Ca++]) [HCO3-].
So every solver for `Conditional` serves for water with pairs too.
"""

from __future__ import annotations

from typing import NamedTuple

from dawnline.water.conditional import Conditional
from dawnline.water.constants import bicarbonate_pairing, carbonate_pairing


class Pairs(NamedTuple):
    """Constants between concentrations [L/mol]: [CaHCO3+] = b1 [Ca++][HCO3-], [CaCO3] = b2 [Ca++][CO3--]."""

    b1: float
    b2: float


def pairs(temperature_c: float, gamma: float) -> Pairs:
    """Plummer and Busenberg (1982) constants; `gamma` is the activity coefficient of a singly charged ion.

    That of the uncharged CaCO3 is taken as 1. Raises ValueError outside 0 to 50 degC.

    >>> round(pairs(25.0, 1.0).b1, 1)  # 10^1.106
    12.8
    """
    return Pairs(bicarbonate_pairing(temperature_c) * gamma**4, carbonate_pairing(temperature_c) * gamma**8)


def with_pairs(k: Conditional, pair: Pairs, free_calcium: float) -> Conditional:
    """The constants under which bicarbonate and carbonate count free and paired alike; `free_calcium` in mol/L.

    >>> from dawnline.water.conditional import conditional
    >>> k = conditional(25.0, 0.0)
    >>> round(with_pairs(k, pairs(25.0, 1.0), 0.001).k1 / k.k1, 3)  # 1.3 % of the bicarbonate is bound
    1.013
    """
    one, two = 1.0 + pair.b1 * free_calcium, 1.0 + pair.b2 * free_calcium
    return Conditional(k.k1 * one, k.k2 * two / one, k.kw, k.gamma)
