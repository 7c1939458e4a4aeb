"""pH from alkalinity and carbon, and back: without calcium, and fast. equilibrium.py counts calcium's ion pairs.

Alkalinity is [HCO3-] + 2 [CO3--] + [OH-] - [H+] in meq/L and may be negative (acid overdose); CO2 and DIC
are in umol/L; temperature in degC, 0 to 50; `ionic_strength` in mol/L, 0 to 0.5, by default that of calcium
bicarbonate water of the given alkalinity. Constants and activities: conditional.py. No ion pairs: against
PHREEQC the pH from CO2 is at most 0.006 too high up to 1 meq/L, 0.015 at 2 and 0.045 at 4; from DIC
likewise while CO2 is a tenth of it, but several times as much near pH 8.3. Every function raises
ValueError for a temperature, a pH or an ionic strength outside its range (ranges.py), for a negative
concentration and for what is not a number.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, log

from dawnline.water.conditional import Conditional, conditional, ionic_strength_from_alkalinity
from dawnline.water.ranges import HIGHEST_PH, LOWEST_PH, check_alkalinity, check_amount, check_ph, refusal

LN10 = log(10.0)
_CLOSE = 1e-10  # pH


def ph_from_co2(
    alkalinity_meq_l: float, co2_umol_l: float, temperature_c: float, ionic_strength: float | None = None
) -> float:
    """The pH of water with this alkalinity and this dissolved CO2.

    >>> round(ph_from_co2(1.0, 19.0, 15.0), 2)  # in balance with air: PHREEQC gives 8.11
    8.12
    """
    check_amount("co2_umol_l", "CO2", co2_umol_l, "umol/L")
    k = _constants(alkalinity_meq_l, temperature_c, ionic_strength)
    return ph_of_co2(alkalinity_meq_l * 1e-3, co2_umol_l * 1e-6, k)


def ph_of_co2(alkalinity: float, co2: float, k: Conditional) -> float:
    """As `ph_from_co2`, in eq/L and mol/L, with the constants at hand.

    >>> round(ph_of_co2(0.001, 1.9e-5, conditional(15.0, 0.0015)), 2)
    8.12
    """

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
    check_amount("dic_umol_l", "DIC", dic_umol_l, "umol/L")
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
    check_ph(ph)
    k = _constants(alkalinity_meq_l, temperature_c, ionic_strength)
    a = exp(-LN10 * ph)
    return bicarbonate_of_alkalinity(alkalinity_meq_l * 1e-3, a, k), a, k


def bicarbonate_of_alkalinity(alkalinity: float, a: float, k: Conditional) -> float:
    """[HCO3-] in mol/L at an alkalinity in eq/L and a hydrogen activity `a`.

    Raises ValueError where the alkalinity is too low for any carbon at this pH.

    >>> round(bicarbonate_of_alkalinity(0.001, 1e-7, conditional(15.0, 0.0015)), 6)
    0.000999
    """
    carried = alkalinity - k.kw / a + a / k.gamma
    if carried < 0.0:
        holds = f"water at pH {-log(a) / LN10:.2f} has more alkalinity, even with no carbon"
        raise refusal("alkalinity_meq_l", holds, alkalinity * 1e3, "test KH and pH in the same water at the same time")
    return carried / (1.0 + 2.0 * k.k2 / a)


def _constants(alkalinity_meq_l: float, temperature_c: float, ionic_strength: float | None) -> Conditional:
    check_alkalinity(alkalinity_meq_l)
    if ionic_strength is None:
        ionic_strength = ionic_strength_from_alkalinity(alkalinity_meq_l)
    return conditional(temperature_c, ionic_strength)


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
        holds = "no pH between 0 and 14 fits this alkalinity and carbon"
        raise refusal("alkalinity_meq_l", holds, f"pH {following:.2f}", "look at the units: meq/L and umol/L")
    return following
