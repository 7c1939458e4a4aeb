"""Fish and algae: what they take and give, in umol/(L h), for one layer each."""

from __future__ import annotations

from math import exp, tanh
from typing import NamedTuple

from dawnline_simulator.hard_pond.gas import MG_PER_UMOL_OXYGEN
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.sky import HOUR_MS
from dawnline_simulator.hard_pond.state import Layer, PondState

GUT_HOURS = 5.0  # how long a meal works on (common practice, no source)
MEAL_OXYGEN = 0.12  # g of oxygen a gram of feed costs beyond the routine, within published budgets of 0.25 to 0.5
EXCRETED = 0.092  # g N as ammonia per g of feed protein: Timmons and Ebeling (from memory)
RESPIRATORY_QUOTIENT = 0.9  # CO2 given off per oxygen used
CARBON_OF_FEED = 0.42
FAECES = 0.25  # of the feed's carbon
CHLOROPHYLL_UG_PER_UMOL = 12.0 / 50.0  # carbon to chlorophyll 50 by mass
KEEPS_PACE = 1.066  # a degree: Eppley (1972), Fishery Bulletin 70, 1063 (from memory)


class Life(NamedTuple):
    """Carbon taken up by plankton and by walls, given off by fish and algae; plankton that dies; ammonia."""

    plankton_gross: float
    wall_gross: float
    plankton_respiration: float
    wall_respiration: float
    fish: float
    excretion: float
    death: float


def extinction_per_m(plankton: float) -> float:
    """Vertical extinction of light: water and what swims in it, Riley (1956), form from memory.

    >>> round(extinction_per_m(100.0), 2)
    1.16
    """
    chlorophyll = CHLOROPHYLL_UG_PER_UMOL * max(plankton, 0.0)
    return float(0.5 + 0.0088 * chlorophyll + 0.054 * chlorophyll ** (2.0 / 3.0))


def carbon_limit(layer: Layer, pond: HardPond) -> float:
    """Share of the best uptake that the carbon allows: Monod; bicarbonate is pumped in once CO2 is short.

    >>> scarce = Layer(20, 1000, 900, 300, 5, 50, 500, 50, 50, ph=9.2, co2=1.0)
    >>> 0.5 < carbon_limit(scarce, HardPond()) < carbon_limit(scarce._replace(ph=7.4, co2=80.0), HardPond())
    True
    """
    pumping = pond.bicarbonate_use / (1.0 + 10.0 ** (8.0 - layer.ph)) / (1.0 + 10.0 ** (layer.ph - 10.2))
    carbon = layer.co2 + pumping * (layer.dic - layer.co2)
    return float(carbon / (carbon + pond.carbon_half))


def breathing(oxygen: float, half: float) -> float:
    """Share of respiration that the oxygen allows."""
    return oxygen / (oxygen + half) if oxygen > 0.0 else 0.0


def meal_g(solar_ms: int, span_ms: int, water_c: float, days: float, pond: HardPond) -> float:
    """Feed [g] given from a solar time of day [ms] on for `span_ms`: less in cold water, none below 7 degC."""
    meals = sum(1 for hour in pond.meals if solar_ms <= round(hour * HOUR_MS) < solar_ms + span_ms)
    appetite = min(1.0, max(0.0, (water_c - 7.0) / 12.0))
    return meals / len(pond.meals) * pond.feed_g_day * appetite * max(0.0, 1.0 + pond.feed_ramp_per_day * days)


def living(state: PondState, layer: Layer, light: float, push: Push, pond: HardPond) -> Life:
    """All of life in one layer; `light` W/m2 in its middle."""
    warm = layer.temperature_c - 20.0
    grow = KEEPS_PACE**warm * tanh(light / pond.light_half_w_m2) * carbon_limit(layer, pond)
    gross = push.bloom * pond.plankton_per_day / 24.0 * grow * layer.plankton
    wall_gross = pond.walls_umol_m2_h * pond.area_m2 / pond.volume_litres * grow
    air = breathing(layer.oxygen, 15.0)
    slow = 2.0 ** (warm / 10.0) * air
    wall_respiration = slow * 0.15 / 24.0 * state.walls * 1e6 / pond.volume_litres
    respiration = slow * 0.08 / 24.0 * layer.plankton + 0.15 * gross
    loss = (pond.plankton_loss_per_day + pond.plankton_crowding / push.bloom * layer.plankton) / 24.0
    routine = state.fish_kg * pond.fish_mg_kg_h * pond.fish_q10 ** (warm / 10.0) * (1.0 + pond.activity * push.sun)
    meal = state.gut_g / GUT_HOURS * MEAL_OXYGEN * 1000.0
    fish = (routine + meal) / MG_PER_UMOL_OXYGEN / pond.volume_litres
    excretion = state.gut_g / GUT_HOURS * pond.protein * EXCRETED / 14.0067e-6 / pond.volume_litres
    death = (loss + push.dying_per_h) * layer.plankton
    return Life(
        gross, wall_gross, respiration, wall_respiration,
        RESPIRATORY_QUOTIENT * fish * breathing(layer.oxygen, 20.0), excretion, death,
    )  # fmt: skip


def light_at(depth_m: float, light: float, extinction: float) -> float:
    """Light [W/m2] at a depth, of `light` at the surface."""
    return light * exp(-extinction * depth_m)
