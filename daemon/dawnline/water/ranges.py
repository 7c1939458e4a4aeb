"""Where the formulas of this room hold. Outside, a ValueError names the argument, what holds, what was found and
what to look at.
"""

from __future__ import annotations

from math import isfinite

COLDEST_C, HOTTEST_C = 0.0, 50.0  # Plummer and Busenberg's constants reach from 0 to 90 degC; ponds do not
LOWEST_PH, HIGHEST_PH = 0.0, 14.0
MOST_IONS_MOL_L = 0.5  # Davies; sea water has 0.7, a pond 0.001 to 0.02


def refusal(place: str, holds: str, found: object, remedy: str) -> ValueError:
    """The error of a value outside its range, to be raised by who found it.

    >>> str(refusal("ph", "a pH lies between 0 and 14", 71, "is the decimal point missing?"))
    'ph: a pH lies between 0 and 14, found 71; is the decimal point missing?'
    """
    return ValueError(f"{place}: {holds}, found {found}; {remedy}")


def check_temperature(temperature_c: float) -> None:
    """Raises ValueError outside 0 to 50 degC."""
    if not COLDEST_C <= temperature_c <= HOTTEST_C:
        remedy = "give the water's own temperature in degrees Celsius"
        raise refusal("temperature_c", "the constants hold from 0 to 50 degC", temperature_c, remedy)


def check_ph(ph: float) -> None:
    """Raises ValueError outside 0 to 14."""
    if not LOWEST_PH <= ph <= HIGHEST_PH:
        raise refusal("ph", "a pH lies between 0 and 14", ph, "read the probe or the kit again")


def check_alkalinity(alkalinity_meq_l: float) -> None:
    """Raises ValueError where it is not a number; below zero is acid water, and allowed."""
    if not isfinite(alkalinity_meq_l):
        remedy = "give meq/L; water.units converts a kit's degrees"
        raise refusal("alkalinity_meq_l", "an alkalinity is a finite number", alkalinity_meq_l, remedy)


def check_amount(place: str, what: str, amount: float, unit: str) -> None:
    """Raises ValueError for a concentration that is negative or not a finite number.

    >>> check_amount("co2_umol_l", "CO2", 19.0, "umol/L")
    """
    if not 0.0 <= amount < float("inf"):
        raise refusal(place, f"{what} is not negative, and finite", f"{amount} {unit}", f"give it in {unit}")
