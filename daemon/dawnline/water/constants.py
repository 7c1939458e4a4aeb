"""Equilibrium constants of the carbonate system, its calcium ion pairs and its minerals, at zero ionic strength.

Plummer, L.N., Busenberg, E. (1982): The solubilities of calcite, aragonite and vaterite in CO2-H2O
solutions between 0 and 90 degC. Geochimica et Cosmochimica Acta 46, 1011-1040. All have the form
log10 K = A0 + A1 T + A2/T + A3 log10 T + A4/T^2 with T in kelvin. Each function takes a temperature in
degC, is used here from 0 to 50 degC, and raises ValueError outside.
"""

from __future__ import annotations

from math import log10

from dawnline.water.ranges import COLDEST_C, HOTTEST_C, check_temperature

ZERO_CELSIUS_K = 273.15


def _power_law(temperature_c: float, a: tuple[float, float, float, float, float]) -> float:
    if not COLDEST_C <= temperature_c <= HOTTEST_C:
        check_temperature(temperature_c)
    kelvin = temperature_c + ZERO_CELSIUS_K
    log_k = a[0] + a[1] * kelvin + a[2] / kelvin + a[3] * log10(kelvin) + a[4] / (kelvin * kelvin)
    return float(10.0**log_k)


def first_dissociation(temperature_c: float) -> float:
    """K1 of CO2(aq) + H2O = H+ + HCO3- [mol/L].

    >>> round(-log10(first_dissociation(25.0)), 3)  # published anchor at 25 degC: 6.352
    6.352
    """
    return _power_law(temperature_c, (-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0))


def second_dissociation(temperature_c: float) -> float:
    """K2 of HCO3- = H+ + CO3-- [mol/L].

    >>> round(-log10(second_dissociation(25.0)), 3)  # published anchor at 25 degC: 10.329
    10.329
    """
    return _power_law(temperature_c, (-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9))


def henry(temperature_c: float) -> float:
    """KH of CO2(g) = CO2(aq) [mol/(L atm)].

    >>> round(-log10(henry(25.0)), 3)  # published anchor at 25 degC: 1.468
    1.468
    """
    return _power_law(temperature_c, (108.3865, 0.01985076, -6919.53, -40.45154, 669365.0))


def water_dissociation(temperature_c: float) -> float:
    """Kw of H2O = H+ + OH- [mol2/L2].

    >>> round(-log10(water_dissociation(25.0)), 2)  # published anchor at 25 degC: 14.00
    14.0
    """
    return _power_law(temperature_c, (-283.971, -0.05069842, 13323.0, 102.24447, -1119669.0))


def calcite_solubility(temperature_c: float) -> float:
    """Ksp of calcite = Ca++ + CO3-- [mol2/L2].

    >>> round(-log10(calcite_solubility(25.0)), 2)  # phreeqc.dat, Calcite log_k: -8.48
    8.48
    """
    return _power_law(temperature_c, (-171.9065, -0.077993, 2839.319, 71.595, 0.0))


def aragonite_solubility(temperature_c: float) -> float:
    """Ksp of aragonite = Ca++ + CO3-- [mol2/L2].

    >>> round(-log10(aragonite_solubility(25.0)), 2)  # phreeqc.dat, Aragonite log_k: -8.336
    8.34
    """
    return _power_law(temperature_c, (-171.9773, -0.077993, 2903.293, 71.595, 0.0))


def bicarbonate_pairing(temperature_c: float) -> float:
    """K of Ca++ + HCO3- = CaHCO3+ [L/mol]; coefficients as in wateq4f.dat.

    >>> round(log10(bicarbonate_pairing(25.0)), 2)  # wateq4f.dat, CaHCO3+ log_k: 1.106
    1.11
    """
    return _power_law(temperature_c, (1209.12, 0.31294, -34765.05, -478.782, 0.0))


def carbonate_pairing(temperature_c: float) -> float:
    """K of Ca++ + CO3-- = CaCO3(aq) [L/mol]; coefficients as in phreeqc.dat.

    >>> round(log10(carbonate_pairing(25.0)), 1)  # phreeqc.dat, CaCO3 log_k: 3.224
    3.2
    """
    return _power_law(temperature_c, (-1228.732, -0.29944, 35512.75, 485.818, 0.0))
