"""Activity coefficients of ions in dilute water."""

from __future__ import annotations

from math import log, sqrt

from dawnline.water.constants import ZERO_CELSIUS_K
from dawnline.water.ranges import COLDEST_C, HOTTEST_C, MOST_IONS_MOL_L, check_temperature, refusal

# Ca(HCO3)2 water of alkalinity a eq/L holds a/2 of Ca++ and a of HCO3-: I = (4 a/2 + a)/2 = 1.5 a.
IONIC_STRENGTH_PER_ALKALINITY = 1.5


def debye_hueckel_a(temperature_c: float) -> float:
    """Debye-Hueckel parameter A [(L/mol)^0.5] at 0 to 50 degC; the density of water is taken as 1 kg/L.

    A = 1.82483e6 (eps T)^-1.5 with the dielectric constant of water after WATEQ and PHREEQE (Truesdell and
    Jones 1974; Parkhurst, Thorstenson and Plummer 1980; form from memory). Raises ValueError outside 0 to
    50 degC.

    >>> round(debye_hueckel_a(25.0), 3)  # textbook value: 0.509
    0.51
    """
    if not COLDEST_C <= temperature_c <= HOTTEST_C:
        check_temperature(temperature_c)
    kelvin = temperature_c + ZERO_CELSIUS_K
    dielectric = 2727.586 + 0.6224107 * kelvin - 466.9151 * log(kelvin) - 52000.87 / kelvin
    return float(1.82483e6 * (dielectric * kelvin) ** -1.5)


def davies(ionic_strength: float, temperature_c: float) -> float:
    """Activity coefficient of a singly charged ion; of one with charge z it is this to the power z squared.

    log10 gamma = -A (sqrt(I)/(1 + sqrt(I)) - 0.3 I), I in mol/L, good to about 0.5 mol/L (Davies 1962,
    from memory). Raises ValueError outside 0 to 0.5 mol/L.

    >>> round(davies(0.003, 15.0), 4)
    0.9428
    """
    if not 0.0 <= ionic_strength <= MOST_IONS_MOL_L:
        holds = "an ionic strength lies between 0 and 0.5 mol/L in fresh water"
        raise refusal("ionic_strength", holds, ionic_strength, "look at the unit of alkalinity, CO2, DIC and calcium")
    root = sqrt(ionic_strength)
    return float(10.0 ** (-debye_hueckel_a(temperature_c) * (root / (1.0 + root) - 0.3 * ionic_strength)))
