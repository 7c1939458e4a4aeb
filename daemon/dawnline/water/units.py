"""Alkalinity (KH) and hardness (GH) in the units people meet, any one into any other.

Definitions, from memory: a German degree is 10 mg/L of CaO (DIN), a French one 10 mg/L of CaCO3, an English or Clark
one a grain of CaCO3 in an imperial gallon, a grain per gallon one in a US gallon. Molar masses CaO 56.0774,
CaCO3 100.0869, HCO3- 61.0168, Ca 40.078, CO2 44.0095 g/mol (IUPAC, abridged, from memory). A grain is 64.79891 mg,
a gallon 3.785411784 L (US) or 4.54609 L (imperial), all exact. Parts per million stand for mg/L as CaCO3, in water
of 1 kg/L; a mmol/L is one of CaCO3 (or of Ca and Mg together), two equivalents.
"""

from __future__ import annotations

from math import isfinite

from dawnline.water.ranges import refusal

MEQ_L_PER_DKH = 10.0 / 56.0774 * 2.0
MG_L_CACO3_PER_MEQ_L = 100.0869 / 2.0
MG_PER_GRAIN = 64.79891
LITRES_PER_US_GALLON, LITRES_PER_IMPERIAL_GALLON = 3.785411784, 4.54609
MG_PER_UMOL_CO2 = 0.0440095

_BOTH = {
    "meq/L": 1.0,
    "mmol/L": 2.0,
    "mg/L CaCO3": 1.0 / MG_L_CACO3_PER_MEQ_L,
    "ppm": 1.0 / MG_L_CACO3_PER_MEQ_L,
    "fH": 10.0 / MG_L_CACO3_PER_MEQ_L,
    "eH": MG_PER_GRAIN / LITRES_PER_IMPERIAL_GALLON / MG_L_CACO3_PER_MEQ_L,
    "gpg": MG_PER_GRAIN / LITRES_PER_US_GALLON / MG_L_CACO3_PER_MEQ_L,
}
# meq/L in one of each unit
ALKALINITY_UNITS = {**_BOTH, "dKH": MEQ_L_PER_DKH, "mg/L HCO3": 1.0 / 61.0168}
HARDNESS_UNITS = {**_BOTH, "dGH": MEQ_L_PER_DKH, "mg/L Ca": 2.0 / 40.078}


def convert_alkalinity(amount: float, unit: str, into: str) -> float:
    """An alkalinity (KH) from one of ALKALINITY_UNITS into another.

    Raises ValueError for a unit that is none of them (dGH is a hardness) and for what is not a finite number.

    >>> round(convert_alkalinity(4.0, "dKH", "mg/L CaCO3"), 1)
    71.4
    """
    return _convert(amount, unit, into, ALKALINITY_UNITS, "an alkalinity")


def convert_hardness(amount: float, unit: str, into: str) -> float:
    """A hardness (GH) from one of HARDNESS_UNITS into another. "mg/L Ca" takes all of it for calcium.

    Raises ValueError for a unit that is none of them (dKH is an alkalinity) and for what is not a finite number.

    >>> round(convert_hardness(1.0, "dGH", "fH"), 3)
    1.785
    """
    return _convert(amount, unit, into, HARDNESS_UNITS, "a hardness")


def meq_l_from_dkh(dkh: float) -> float:
    """Alkalinity [meq/L] of a carbonate hardness [dKH].

    >>> round(meq_l_from_dkh(1.0), 5)
    0.35665
    """
    return dkh * MEQ_L_PER_DKH


def dkh_from_meq_l(alkalinity_meq_l: float) -> float:
    """Carbonate hardness [dKH] of an alkalinity [meq/L].

    >>> round(dkh_from_meq_l(1.0), 4)
    2.8039
    """
    return alkalinity_meq_l / MEQ_L_PER_DKH


def calcium_mmol_l_from_dgh(gh_dgh: float, magnesium_share: float = 0.0) -> float:
    """Calcium [mmol/L] of a general hardness [dGH]; `magnesium_share` of it, 0 to 1, is magnesium, no calcium.

    A GH kit cannot tell the two apart; 0.2 to 0.3 is usual (common practice, no source) and lowers a saturation
    index by 0.10 to 0.15. Raises ValueError for a negative hardness and a share outside 0 to 1.

    >>> round(calcium_mmol_l_from_dgh(5.0, magnesium_share=0.2), 3)
    0.713
    """
    if not 0.0 <= magnesium_share <= 1.0:
        remedy = "25 % is 0.25"
        raise refusal("magnesium_share", "a share lies between 0 and 1", magnesium_share, remedy)
    if not gh_dgh >= 0.0:
        raise refusal("gh_dgh", "a hardness is not negative", gh_dgh, "read the kit again")
    return convert_hardness(gh_dgh, "dGH", "mmol/L") * (1.0 - magnesium_share)


def mg_l_co2_from_umol_l(co2_umol_l: float) -> float:
    """CO2 [mg/L] of CO2 [umol/L].

    >>> round(mg_l_co2_from_umol_l(100.0), 2)
    4.4
    """
    return co2_umol_l * MG_PER_UMOL_CO2


def _convert(amount: float, unit: str, into: str, units: dict[str, float], what: str) -> float:
    for place, name in (("unit", unit), ("into", into)):
        if name not in units:
            remedy = "KH and GH do not follow from one another" if name in ("dKH", "dGH") else "spell it as listed"
            raise refusal(place, f"{what} comes in {', '.join(units)}", repr(name), remedy)
    if not isfinite(amount):
        raise refusal("amount", f"{what} is a finite number", amount, "read the kit again")
    return amount * units[unit] / units[into]
