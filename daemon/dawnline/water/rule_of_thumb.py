"""The rule of thumb CO2 = 3 x KH x 10^(7 - pH), and what it leaves out.

It stands for K1 = 10^-6.28 at every temperature. The true one is smaller, the more so in the cold, so there is more
CO2 than the rule says: at pH 7.5 and less, by 6 to 15 % at 25 degC, by a quarter to a third at 15 and by 56 to 68 %
at 5 degC; the softer the water, the more. Above pH 8.5 in hard, warm water it is right by chance.
"""

from __future__ import annotations

from dawnline.water.equilibrium import equilibrium
from dawnline.water.ranges import check_amount, check_ph
from dawnline.water.units import meq_l_from_dkh, mg_l_co2_from_umol_l


def co2_by_rule_of_thumb(kh_dkh: float, ph: float) -> float:
    """CO2 [mg/L] as the rule has it; common practice, no source. For comparison only: use `co2_mg_l`.

    Raises ValueError for a negative KH and a pH outside 0 to 14.

    >>> co2_by_rule_of_thumb(4.0, 7.0)
    12.0
    """
    check_amount("kh_dkh", "KH", kh_dkh, "dKH")
    check_ph(ph)
    return float(3.0 * kh_dkh * 10.0 ** (7.0 - ph))


def co2_mg_l(kh_dkh: float, ph: float, temperature_c: float, calcium_mmol_l: float | None = None) -> float:
    """CO2 [mg/L] from the same two tests and the temperature; calcium by default half the alkalinity.

    A KH kit tells within its last drop and pH enters as a power of ten: 0.1 of pH is a quarter of the CO2.
    Raises ValueError as `equilibrium` does.

    >>> round(co2_mg_l(4.0, 7.0, 5.0), 1)
    19.5
    """
    check_amount("kh_dkh", "KH", kh_dkh, "dKH")
    alkalinity = meq_l_from_dkh(kh_dkh)
    calcium = alkalinity / 2.0 if calcium_mmol_l is None else calcium_mmol_l
    water = equilibrium(temperature_c, ph=ph, alkalinity_meq_l=alkalinity, calcium_mmol_l=calcium)
    return mg_l_co2_from_umol_l(water.co2_umol_l)


def rule_of_thumb_misses_by(kh_dkh: float, ph: float, temperature_c: float) -> float:
    """True CO2 over what the rule says: 1.6 means that there is 60 % more than it says.

    Raises ValueError as `equilibrium` does; the KH must be above 0.

    >>> round(rule_of_thumb_misses_by(1.4, 7.0, 5.0), 2)  # PHREEQC: 1.66
    1.66
    """
    return co2_mg_l(kh_dkh, ph, temperature_c) / co2_by_rule_of_thumb(kh_dkh, ph)
