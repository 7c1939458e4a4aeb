"""Heat in the two layers, and how fast they mix."""

from __future__ import annotations

from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.sky import Sky

STILL_M_H = 0.01  # what is left when all is calm
TURNING_M_H = 4.0  # convection, when the surface is the colder
VISIBLE = 0.45  # share of sunlight that goes deep; the rest is heat in the first decimetres
KELVIN_M_PER_W_H = 3600.0 / 4.18e6  # degC m an hour, per W/m2


def warming(surface_c: float, sky: Sky, deep: float, pond: HardPond) -> float:
    """Degrees an hour of the upper layer; `deep` is the share of the sun's warmth that reaches the lower one.

    Sun less reflection (6 %), exchange with the air that grows with wind, evaporation in it, and the loss to the sky
    that cools a pond on a clear night; the form of Edinger, Duttweiler and Geyer (1968), Water Resources Research 4,
    1137 (from memory), coefficients rounded.
    """
    sun = 0.94 * sky.light_w_m2 * (1.0 - deep)
    air = (22.0 + 6.0 * pond.shelter * sky.wind_m_s) * (surface_c - sky.air_c)
    outward = 110.0 - 60.0 * sky.cloud
    return (sun - air - outward) * KELVIN_M_PER_W_H / pond.surface_m


def warming_below(sky: Sky, deep: float, pond: HardPond) -> float:
    """Degrees an hour of the lower layer: the light that gets there."""
    return 0.94 * sky.light_w_m2 * deep * KELVIN_M_PER_W_H / (pond.depth_m - pond.surface_m)


def stirring_m_h(surface_c: float, bottom_c: float, sky: Sky, push: Push, pond: HardPond) -> float:
    """Exchange velocity between the layers [m/h].

    Wind: entrainment 2.5 u* / Ri, Kato and Phillips (1969), J. Fluid Mech. 37, 643 (from memory), u* from a drag
    coefficient of 0.0013; a surface colder than the bottom turns over.
    """
    driven = STILL_M_H + push.air * pond.diffuser_m_h + push.pump * pond.pump_m_h
    lighter = _density(bottom_c) - _density(surface_c)
    if lighter <= 0.0:
        return driven + TURNING_M_H
    friction = 1.25e-3 * pond.shelter * sky.wind_m_s  # m/s
    if friction <= 0.0:
        return driven
    richardson = 9.81 * lighter / 1000.0 * pond.surface_m / friction**2
    return driven + min(TURNING_M_H, 2.5 * friction / max(richardson, 1.0) * 3600.0)


def _density(celsius: float) -> float:
    """Fresh water [kg/m3] to 0.1: a parabola about 4 degC."""
    return 1000.0 - 0.0065 * (celsius - 4.0) ** 2
