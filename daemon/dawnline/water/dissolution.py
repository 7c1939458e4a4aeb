"""How fast is shell likely to dissolve here? A published rate for clean calcite, and the range around it.

What the rate does not know, and the range is for: rough shell has more surface than its outline; still water around
it holds a film that is nearly saturated; slime, algae, phosphate and magnesium on the surface slow it, with time
the more. So a range of a factor of ten and more is what can honestly be said; only the pond's own KH tells the rest.
"""

from __future__ import annotations

from typing import NamedTuple

from dawnline.water.constants import ZERO_CELSIUS_K, calcite_solubility
from dawnline.water.equilibrium import Equilibrium, equilibrium
from dawnline.water.ranges import check_amount, refusal

SECONDS_A_DAY = 86400.0
CM2_PER_M2 = 1e4
# The range around the published rate: common practice, no source; the margins are ours.
ROUGHNESS = 3.0  # surface over geometric area of clean crushed shell
COATING = 0.1  # of the clean rate left to a shell under slime
THIN_FILM_M, THICK_FILM_M = 1e-4, 1e-3  # in a strong flow, in still water
DIFFUSION_M2_S = 0.8e-9  # of Ca++ at 25 degC (phreeqc.dat, rounded); 40 % less at 5 degC, which the films cover


class DissolutionRate(NamedTuple):
    """CaCO3 dissolved [mmol/(m2 d)] for each square metre of geometric area; each mmol gives 2 meq of alkalinity."""

    lowest: float  # coated, in still water
    highest: float  # clean and rough, in a strong flow
    clean: float  # the published rate itself: smooth, clean, stirred until there is no film


def dissolution_rate(
    alkalinity_meq_l: float, ph: float, temperature_c: float, calcium_mmol_l: float | None = None
) -> DissolutionRate:
    """The range in which shell dissolves at this moment, nothing where the water is saturated with calcite.

    Calcium [mmol/L] is by default half the alkalinity. Taken as calcite, geometric area; films after Fick's law, the
    shell's surface and the film in series. Raises ValueError as `equilibrium` does.

    >>> rate = dissolution_rate(1.0, 7.0, 15.0)
    >>> [round(x) for x in rate]  # mmol/(m2 d): 100 is 10 g of shell
    [6, 102, 91]
    """
    calcium = alkalinity_meq_l / 2.0 if calcium_mmol_l is None else calcium_mmol_l
    water = equilibrium(temperature_c, ph=ph, alkalinity_meq_l=alkalinity_meq_l, calcium_mmol_l=calcium)
    clean = clean_rate(water)
    if clean == 0.0:
        return DissolutionRate(0.0, 0.0, 0.0)
    room = dissolvable_mmol_l(water)
    return DissolutionRate(
        _in_series(COATING * clean, _through_film(room, THICK_FILM_M)),
        _in_series(ROUGHNESS * clean, _through_film(room, THIN_FILM_M)),
        clean,
    )


def clean_rate(water: Equilibrium) -> float:
    """Rate of clean, smooth, stirred calcite [mmol/(m2 d)]; 0 where the water is saturated.

    Plummer, Wigley and Parkhurst (1978), Am. J. Sci. 278, 179: k1 [H+] + k2 [CO2] + k3 [H2O], in the form of
    phreeqc.dat (RATES, Calcite), whose way back is the factor 1 - saturation^(2/3). Measured at 5 to 60 degC and
    pCO2 from 0 to 1 atm in dilute water.

    >>> round(clean_rate(equilibrium(15.0, ph=7.0, alkalinity_meq_l=1.0, calcium_mmol_l=0.5)))
    91
    """
    saturation = water.ion_product / calcite_solubility(water.temperature_c)
    if saturation >= 1.0:
        return 0.0
    kelvin = water.temperature_c + ZERO_CELSIUS_K
    k3 = 10.0 ** (-5.86 - 317.0 / kelvin) if water.temperature_c <= 25.0 else 10.0 ** (-1.1 - 1737.0 / kelvin)
    forward = 10.0 ** (0.198 - 444.0 / kelvin) * 10.0**-water.ph
    forward += 10.0 ** (2.84 - 2177.0 / kelvin) * water.co2_umol_l * 1e-6
    return float((forward + k3) * (1.0 - saturation ** (2.0 / 3.0)) * CM2_PER_M2 * SECONDS_A_DAY)


def dissolvable_mmol_l(water: Equilibrium) -> float:
    """Calcite this water can still dissolve [mmol/L] while no CO2 comes or goes; 0 where it is saturated.

    >>> round(dissolvable_mmol_l(equilibrium(15.0, ph=7.0, alkalinity_meq_l=1.0, calcium_mmol_l=0.5)), 2)
    0.23
    """
    if _saturated(water, 0.0):
        return 0.0
    low, high = 0.0, 0.1
    while not _saturated(water, high):
        low, high = high, 2.0 * high
    while high - low > 1e-3 * high:
        middle = (low + high) / 2.0
        low, high = (low, middle) if _saturated(water, middle) else (middle, high)
    return high


def alkalinity_gain_meq_l_day(rate_mmol_m2_day: float, area_m2: float, volume_l: float) -> float:
    """Alkalinity [meq/L a day] a pond gains from shell of this geometric area, if the rate lasts: it falls as the
    water nears saturation. Raises ValueError for a negative area and for no water.

    >>> alkalinity_gain_meq_l_day(100.0, 5.0, 10000.0)
    0.1
    """
    check_amount("area_m2", "the area of shell", area_m2, "m2")
    if not volume_l > 0.0:
        raise refusal("volume_l", "a pond has a volume above 0 litres", volume_l, "give the pond's volume in litres")
    return 2.0 * rate_mmol_m2_day * area_m2 / volume_l


def _saturated(water: Equilibrium, dissolved_mmol_l: float) -> bool:
    after = equilibrium(
        water.temperature_c,
        alkalinity_meq_l=water.alkalinity_meq_l + 2.0 * dissolved_mmol_l,
        dic_umol_l=water.dic_umol_l + 1000.0 * dissolved_mmol_l,
        calcium_mmol_l=water.calcium_mmol_l + dissolved_mmol_l,
    )
    return after.ion_product >= calcite_solubility(water.temperature_c)


def _through_film(room_mmol_l: float, thickness_m: float) -> float:
    return DIFFUSION_M2_S / thickness_m * room_mmol_l * 1000.0 * SECONDS_A_DAY  # mmol/L is mol/m3: times 1000 mmol


def _in_series(surface: float, film: float) -> float:
    return surface * film / (surface + film)
