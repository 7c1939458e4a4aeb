"""What takes alkalinity from a pond or gives it: one published figure a function. meq/L, litres, days."""

from __future__ import annotations

from math import exp
from typing import Final

MEQ_PER_MG_N: Final = 2.0 / 14.0067  # NH4+ + 2 O2 = NO3- + 2 H+ + H2O: 7.14 g of CaCO3 a gram of nitrogen
TAN_PER_PROTEIN: Final = 0.092  # total ammonia nitrogen a gram of protein fed; Timmons and Ebeling, from memory
PROTEIN_PERCENT: Final = 35.0  # of feed that nobody named; common practice, no source
RESERVE: Final = 3.0  # times the fish's ammonia that a ripe filter could take at 20 degC; common sense, no source
GROWTH_G_C_M2_DAY: Final = 0.5  # net growth of algae; ponds have 0.2 to 2 (after Wetzel, Limnology, from memory)
NITRATE_FED, AMMONIUM_FED = 18.0 / 106.0, -14.0 / 106.0  # eq a mol of carbon; Stumm and Morgan, from memory
G_C_MOL: Final = 12.011
CACO3_MG_PER_MEQ: Final = 50.0435


def ammonia_mg_n_day(feed_g_day: float, protein_percent: float | None = None) -> float:
    """Ammonia that fish give off on this feed [mg N a day].

    >>> round(ammonia_mg_n_day(200.0, 35.0))  # 6.44 g a day
    6440
    """
    protein = PROTEIN_PERCENT if protein_percent is None else protein_percent
    return feed_g_day * 1000.0 * protein / 100.0 * TAN_PER_PROTEIN


def nitrified_share(celsius: float, ph: float) -> float:
    """How much of that a ripe filter turns to nitrate, 0 to 1: all, but in the cold and in acid water.

    Nitrifiers grow and work faster by 7 to 10 % a degree (US EPA, Nitrogen Control, 1993, from memory) and slow down
    below about pH 6.8 (common practice); the curve through it is ours.

    >>> nitrified_share(20.0, 7.5), round(nitrified_share(4.0, 6.4), 2)
    (1.0, 0.51)
    """
    able = RESERVE * 1.07 ** (celsius - 20.0) / (1.0 + 10.0 ** (6.4 - ph))
    return float(min(1.0, able))


def nitrification_meq_l_day(
    feed_g_day: float, protein_percent: float | None, litres: float, celsius: float, ph: float
) -> float:
    """Alkalinity that nitrification takes [meq/L a day], if all the ammonia goes this way.

    2 eq a mol of nitrogen (stoichiometry; with the growth of the bacteria 7.05 instead of 7.14 g of CaCO3 a gram of
    nitrogen: Ebeling, Timmons and Bisogni 2006, Aquaculture 257, 346).

    >>> round(nitrification_meq_l_day(200.0, 35.0, 15000.0, 20.0, 7.5), 4)  # 0.172 degrees of KH
    0.0613
    """
    nitrogen = ammonia_mg_n_day(feed_g_day, protein_percent) * nitrified_share(celsius, ph)
    return nitrogen * MEQ_PER_MG_N / litres


def feed_meq_l_day(feed_g_day: float, protein_percent: float | None, litres: float, celsius: float, ph: float) -> float:
    """Alkalinity that feed takes in the end [meq/L a day], if all its ammonia goes to nitrate.

    1 eq a mol of nitrogen: nitrification takes 2, and the ammonia gave 1 when the fish gave it off (NH3 + H+ = NH4+).
    What algae take up before the filter does gave 1 and takes 1. Explicit conservative form of alkalinity:
    Wolf-Gladrow et al. 2007, Marine Chemistry 106, 287, from memory.

    >>> round(feed_meq_l_day(1000.0, 35.0, 1000.0, 20.0, 7.5) * 84.007)  # g of bicarbonate of soda a kg of feed
    193
    """
    return nitrification_meq_l_day(feed_g_day, protein_percent, litres, celsius, ph) / 2.0


def algae_meq_l_day(surface_m2: float, litres: float) -> tuple[float, float]:
    """Between what algae take and give [meq/L a day]: fed by ammonium they take, by nitrate they give.

    >>> [round(x, 4) for x in algae_meq_l_day(12.0, 14000.0)]
    [-0.0047, 0.0061]
    """
    mmol = GROWTH_G_C_M2_DAY * surface_m2 / G_C_MOL * 1000.0 / litres
    return AMMONIUM_FED * mmol, NITRATE_FED * mmol


def rain_keeps(mm: float, depth_mm: float) -> float:
    """The share of its alkalinity that a full pond keeps when so much rain falls into it and spills: exp(-rain/depth).

    Rain of no alkalinity, mixed as it falls; `depth_mm` is the water under each square metre that catches rain.

    >>> round(rain_keeps(50.0, 1500.0), 5), round(rain_keeps(50.0, 15000.0 / (10.0 + 0.9 * 40.0)), 5)  # with a roof
    (0.96722, 0.85784)
    """
    return exp(-mm / depth_mm)


def shell_g_day(meq_l_day: float, litres: float) -> float:
    """Calcium carbonate dissolved [g a day] that gives this alkalinity.

    >>> round(shell_g_day(0.02, 14000.0), 1)
    14.0
    """
    return meq_l_day * litres * CACO3_MG_PER_MEQ / 1000.0
