"""Ammonia: how much of it is un-ionised, the form that poisons fish.

Ammonia in water is NH4+ and NH3 together (TAN). Amounts are mg/L as nitrogen unless a name says otherwise. The share
of NH3 grows tenfold with each unit of pH, and doubles with about nine degrees: the same test is harmless at dawn and
poisonous at dusk.
"""

from __future__ import annotations

from typing import Final

from dawnline.water.constants import ZERO_CELSIUS_K
from dawnline.water.ranges import check_amount, check_ph, check_temperature

HARMFUL_FROM: Final = 0.02  # mg/L un-ionised, as N; common practice in fish culture, no source


def ammonia_pka(temperature_c: float) -> float:
    """pKa of NH4+ = NH3 + H+: 0.09018 + 2729.92/T, T in kelvin.

    Emerson, Russo, Lund and Thurston (1975): Aqueous ammonia equilibrium calculations. Effect of pH and temperature.
    J. Fish. Res. Board Can. 32, 2379-2383; from 0 to 30 degC in fresh water, beyond that drawn on. The original has
    T = 273.2 + degC, which changes the share by less than half a per cent of itself. Raises ValueError outside 0 to
    50 degC.

    >>> round(ammonia_pka(25.0), 3)
    9.246
    """
    check_temperature(temperature_c)
    return 0.09018 + 2729.92 / (temperature_c + ZERO_CELSIUS_K)


def unionised_fraction(ph: float, temperature_c: float) -> float:
    """Share of the ammonia that is NH3, 0 to 1 (Emerson et al. 1975). Raises ValueError as `ammonia_pka`, and for pH.

    >>> round(100 * unionised_fraction(8.0, 20.0), 2)
    3.81
    """
    check_ph(ph)
    return float(1.0 / (1.0 + 10.0 ** (ammonia_pka(temperature_c) - ph)))


def unionised_mg_l(tan_mg_l: float, ph: float, temperature_c: float) -> float:
    """Un-ionised ammonia [mg/L as N] in this much total ammonia [mg/L as N]. Raises ValueError as its parts do.

    >>> round(unionised_mg_l(0.5, 8.5, 25.0), 3)
    0.076
    """
    check_amount("tan_mg_l", "total ammonia", tan_mg_l, "mg/L as N")
    return tan_mg_l * unionised_fraction(ph, temperature_c)


def tan_with_unionised(unionised: float, ph: float, temperature_c: float) -> float:
    """Total ammonia [mg/L as N] of which this much [mg/L as N] is un-ionised. Raises ValueError as its parts do.

    >>> round(tan_with_unionised(0.02, 8.5, 25.0), 2)
    0.13
    """
    check_amount("unionised", "un-ionised ammonia", unionised, "mg/L as N")
    return unionised / unionised_fraction(ph, temperature_c)
