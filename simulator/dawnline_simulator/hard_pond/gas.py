"""Oxygen and CO2 between water and air: through the surface by wind, and through bubbles.

Rates in umol/(L h), positive into the water.
"""

from __future__ import annotations

from math import exp

from dawnline.water.constants import ZERO_CELSIUS_K, henry
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.state import Layer

MG_PER_UMOL_OXYGEN = 0.031998


def gas_velocity_cm_h(wind_m_s: float) -> float:
    """Transfer velocity at Schmidt number 600 under a wind at 10 m.

    2.07 + 0.215 u^1.7: Cole and Caraco (1998), Limnology and Oceanography 43, 647.

    >>> round(gas_velocity_cm_h(3.0), 2)
    3.46
    """
    return float(2.07 + 0.215 * wind_m_s**1.7)


def schmidt_co2(temperature_c: float) -> float:
    """Schmidt number of CO2 in fresh water, Wanninkhof (1992), J. Geophys. Res. 97, 7373.

    >>> round(schmidt_co2(20.0), -1)
    600.0
    """
    t = temperature_c
    return 1911.1 - 118.11 * t + 3.4527 * t * t - 0.041320 * t**3


def schmidt_oxygen(temperature_c: float) -> float:
    """Schmidt number of oxygen in fresh water, as `schmidt_co2`.

    >>> round(schmidt_oxygen(20.0), -1)
    530.0
    """
    t = temperature_c
    return 1800.6 - 120.10 * t + 3.7818 * t * t - 0.047608 * t**3


def oxygen_at_balance(temperature_c: float) -> float:
    """Oxygen in fresh water under moist air at one atmosphere [umol/L].

    Benson and Krause (1980) in the form of Standard Methods (from memory; 9.09 mg/L at 20 degC, 8.26 at 25).

    >>> round(oxygen_at_balance(20.0) * MG_PER_UMOL_OXYGEN, 2)
    9.09
    """
    k = temperature_c + ZERO_CELSIUS_K
    mg_l = exp(-139.34411 + 1.575701e5 / k - 6.642308e7 / k**2 + 1.243800e10 / k**3 - 8.621949e11 / k**4)
    return mg_l / MG_PER_UMOL_OXYGEN


def co2_at_balance(temperature_c: float, air_co2_uatm: float) -> float:
    """CO2 in balance with air [umol/L].

    >>> round(co2_at_balance(15.0, 425.0), 1)
    19.4
    """
    return henry(temperature_c) * air_co2_uatm


def exchange(layer: Layer, pond: HardPond, wind_m_s: float, air: float, *, at_surface: bool) -> tuple[float, float]:
    """CO2 and oxygen into one layer; `air` is the share of the diffuser that runs."""
    celsius = min(max(layer.temperature_c, 0.0), 40.0)
    bubbles = air * pond.diffuser_per_hour * 1.024 ** (celsius - 20.0)
    co2_rate, oxygen_rate = pond.strip_share * bubbles, bubbles
    if at_surface:
        still = gas_velocity_cm_h(pond.shelter * wind_m_s) / 100.0 / pond.surface_m
        co2_rate += still * (schmidt_co2(celsius) / 600.0) ** -0.5
        oxygen_rate += still * (schmidt_oxygen(celsius) / 600.0) ** -0.5
    co2 = co2_rate * (co2_at_balance(celsius, pond.air_co2_uatm) - layer.co2)
    return co2, oxygen_rate * (oxygen_at_balance(celsius) - layer.oxygen)
