"""pH, CO2, inorganic carbon (DIC) and alkalinity: any one from the others.

Alkalinity is [HCO3-] + 2 [CO3--] + [OH-] - [H+] in meq/L and may be negative (acid overdose); CO2 and DIC
are in umol/L; temperature in degC, 0 to 50; `ionic_strength` in mol/L, by default that of calcium
bicarbonate water of the given alkalinity. Constants and activities: conditional.py. No ion pairs: against
PHREEQC the pH from CO2 is at most 0.006 too high up to 1 meq/L, 0.015 at 2 and 0.045 at 4; from DIC
likewise while CO2 is a tenth of it, but several times as much near pH 8.3. Every function raises
ValueError for a temperature outside 0 to 50 degC, for a negative concentration and for a pH outside 0 to
14.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, log

from dawnline.water.conditional import Conditional, conditional, ionic_strength_from_alkalinity

LN10 = log(10.0)
LOWEST_PH, HIGHEST_PH = 0.0, 14.0
_CLOSE = 1e-10  # pH


def ph_from_co2(
    alkalinity_meq_l: float, co2_umol_l: float, temperature_c: float, ionic_strength: float | None = None
) -> float:
    """The pH of water with this alkalinity and this dissolved CO2.

    >>> round(ph_from_co2(1.0, 19.0, 15.0), 2)  # in balance with air: PHREEQC gives 8.11
    8.12
    """
    _not_negative("CO2", co2_umol_l)
    k = _constants(alkalinity_meq_l, temperature_c, ionic_strength)
    alkalinity, co2 = alkalinity_meq_l * 1e-3, co2_umol_l * 1e-6

    def excess(ph: float) -> tuple[float, float]:
        a = exp(-LN10 * ph)
        bicarbonate = k.k1 * co2 / a
        carbonate = k.k2 * bicarbonate / a
        hydroxide, hydrogen = k.kw / a, a / k.gamma
        value = bicarbonate + 2.0 * carbonate + hydroxide - hydrogen - alkalinity
        return value, LN10 * (bicarbonate + 4.0 * carbonate + hydroxide + hydrogen)

    start = 5.0 if alkalinity <= 0.0 or co2 <= 0.0 else log(alkalinity / (k.k1 * co2)) / LN10
    return _root(excess, start)


def ph_from_dic(
    alkalinity_meq_l: float,
    dic_umol_l: float,
    temperature_c: float,
    ionic_strength: float | None = None,
    start: float = 7.5,
) -> float:
    """The pH of water with this alkalinity and this inorganic carbon; `start` is a guess that saves time.

    >>> round(ph_from_dic(1.0, 1000.0, 25.0, 0.001), 2)  # 1 mmol/L of NaHCO3: PHREEQC gives 8.266
    8.27
    """
    _not_negative("DIC", dic_umol_l)
    k = _constants(alkalinity_meq_l, temperature_c, ionic_strength)
    return ph_of_carbon(alkalinity_meq_l * 1e-3, dic_umol_l * 1e-6, k, start)


def ph_of_carbon(alkalinity: float, dic: float, k: Conditional, start: float = 7.5) -> float:
    """As `ph_from_dic`, in eq/L and mol/L, with the constants at hand: for those who step through time.

    >>> round(ph_of_carbon(0.001, 0.001, conditional(25.0, 0.001)), 2)
    8.27
    """

    def excess(ph: float) -> tuple[float, float]:
        a = exp(-LN10 * ph)
        one = k.k1 / a
        two = one * k.k2 / a
        parts = 1.0 + one + two
        mean = (one + 2.0 * two) / parts  # charge a carbon carries on average
        spread = (one + 4.0 * two) / parts - mean * mean
        hydroxide, hydrogen = k.kw / a, a / k.gamma
        return dic * mean + hydroxide - hydrogen - alkalinity, LN10 * (dic * spread + hydroxide + hydrogen)

    return _root(excess, start)


def co2_from_ph(alkalinity_meq_l: float, ph: float, temperature_c: float, ionic_strength: float | None = None) -> float:
    """Dissolved CO2 [umol/L] of water with this alkalinity and pH.

    Raises ValueError where the alkalinity is too low for any carbon at this pH.

    >>> round(co2_from_ph(1.0, 7.0, 15.0))  # PHREEQC: 11.006 mg/L, that is 250 umol/L
    251
    """
    bicarbonate, a, k = _bicarbonate(alkalinity_meq_l, ph, temperature_c, ionic_strength)
    return bicarbonate * a / k.k1 * 1e6


def dic_from_ph(alkalinity_meq_l: float, ph: float, temperature_c: float, ionic_strength: float | None = None) -> float:
    """Inorganic carbon [umol/L] of water with this alkalinity and pH.

    Raises ValueError where the alkalinity is too low for any carbon at this pH.

    >>> round(dic_from_ph(1.0, 7.0, 15.0))
    1251
    """
    bicarbonate, a, k = _bicarbonate(alkalinity_meq_l, ph, temperature_c, ionic_strength)
    return bicarbonate * (a / k.k1 + 1.0 + k.k2 / a) * 1e6


def _bicarbonate(
    alkalinity_meq_l: float, ph: float, temperature_c: float, ionic_strength: float | None
) -> tuple[float, float, Conditional]:
    if not LOWEST_PH <= ph <= HIGHEST_PH:
        raise ValueError(f"a pH lies between 0 and 14, found {ph}")
    k = _constants(alkalinity_meq_l, temperature_c, ionic_strength)
    a = exp(-LN10 * ph)
    carried = alkalinity_meq_l * 1e-3 - k.kw / a + a / k.gamma
    if carried < 0.0:
        raise ValueError(f"water at pH {ph} has more alkalinity than {alkalinity_meq_l} meq/L, even with no carbon")
    return carried / (1.0 + 2.0 * k.k2 / a), a, k


def _constants(alkalinity_meq_l: float, temperature_c: float, ionic_strength: float | None) -> Conditional:
    if ionic_strength is None:
        ionic_strength = ionic_strength_from_alkalinity(alkalinity_meq_l)
    return conditional(temperature_c, ionic_strength)


def _not_negative(what: str, amount: float) -> None:
    if not amount >= 0.0:
        raise ValueError(f"{what} is not negative, found {amount} umol/L")


def _root(excess: Callable[[float], tuple[float, float]], start: float) -> float:
    """The zero of a rising function of pH: Newton's step while it stays inside the bracket, else a
    halving.
    """
    low, high = LOWEST_PH, HIGHEST_PH
    ph = min(max(start, low + 0.1), high - 0.1)
    for _ in range(200):
        value, slope = excess(ph)
        if value > 0.0:
            high = ph
        elif value < 0.0:
            low = ph
        else:
            return ph
        step = value / slope
        following = ph - step
        if not low < following < high:
            following = (low + high) / 2.0
        if abs(following - ph) < _CLOSE:
            break
        ph = following
    if not LOWEST_PH + _CLOSE < following < HIGHEST_PH - _CLOSE:
        raise ValueError("no pH between 0 and 14 fits this alkalinity and carbon")
    return following
