"""Alkalinity in the units people meet: meq/L, degrees of carbonate hardness (dKH) and mg/L as CaCO3.

1 dKH is 10 mg/L of CaO (DIN definition, from memory); molar masses CaO 56.0774 and CaCO3 100.0869 g/mol
(IUPAC, abridged, from memory); both carry two equivalents a mole.
"""

from __future__ import annotations

MEQ_L_PER_DKH = 10.0 / 56.0774 * 2.0
MG_L_CACO3_PER_MEQ_L = 100.0869 / 2.0


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


def mg_l_caco3_from_meq_l(alkalinity_meq_l: float) -> float:
    """Alkalinity [mg/L as CaCO3] of an alkalinity [meq/L].

    >>> round(mg_l_caco3_from_meq_l(meq_l_from_dkh(1.0)), 3)
    17.848
    """
    return alkalinity_meq_l * MG_L_CACO3_PER_MEQ_L


def meq_l_from_mg_l_caco3(alkalinity_mg_l: float) -> float:
    """Alkalinity [meq/L] of an alkalinity [mg/L as CaCO3].

    >>> round(meq_l_from_mg_l_caco3(50.0), 4)
    0.9991
    """
    return alkalinity_mg_l / MG_L_CACO3_PER_MEQ_L
