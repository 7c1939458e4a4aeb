"""One step of time: what flows is worked out, put into the books, poured, and mixed."""

from __future__ import annotations

from math import exp

from dawnline_simulator.hard_pond import beds, books, gas, life, stirring
from dawnline_simulator.hard_pond.books import Flows
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.pouring import pour
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.sky import Sky
from dawnline_simulator.hard_pond.state import Layer, PondState, blend, settle

SINKING_M_H = 0.004  # plankton


def advance(state: PondState, sky: Sky, push: Push, pond: HardPond, hours: float) -> PondState:
    """The pond `hours` later (a few minutes serve)."""
    state = state._replace(gut_g=state.gut_g + push.meal_g)
    deep = exp(-life.extinction_per_m(state.surface.plankton) * pond.surface_m)
    flows = _flows(state, sky, push, pond, deep)
    top, low = books.water_after(state, flows, push, pond, hours)
    top, low = _warmed(top, low, sky=sky, warmth=stirring.VISIBLE * deep, pond=pond, hours=hours)
    top, carbon, charge = pour(top, sky, push, pond, hours)
    speed = stirring.stirring_m_h(top.temperature_c, low.temperature_c, sky, push, pond)
    top, low = _mixed(top, low, speed, pond, hours)
    more_carbon, more_charge = books.crossed(state, flows, push, pond, hours)
    return books.beds_after(state, flows, push, pond, hours)._replace(
        surface=settle(top),
        bottom=settle(low),
        carbon_in=state.carbon_in + carbon + more_carbon,
        charge_in=state.charge_in + charge + more_charge,
    )


def _flows(state: PondState, sky: Sky, push: Push, pond: HardPond, deep: float) -> Flows:
    """All rates of this moment; `deep` is the share of light that passes the upper layer."""
    top, low = state.surface, state.bottom
    low_m = pond.depth_m - pond.surface_m
    top_light = life.light_at(pond.surface_m / 2.0, sky.light_w_m2, life.extinction_per_m(top.plankton))
    low_light = life.light_at(low_m / 2.0, sky.light_w_m2 * deep, life.extinction_per_m(low.plankton))
    return Flows(
        above=life.living(state, top, top_light, push, pond),
        below=life.living(state, low, low_light, push, pond),
        bed=beds.resting(state, pond),
        top_gas=gas.exchange(top, pond, sky.wind_m_s, push.air, at_surface=True),
        low_gas=gas.exchange(low, pond, 0.0, push.air, at_surface=False),
        sunk=SINKING_M_H / pond.surface_m * top.plankton,
        sunk_low=SINKING_M_H / low_m * low.plankton,
    )


def _warmed(top: Layer, low: Layer, *, sky: Sky, warmth: float, pond: HardPond, hours: float) -> tuple[Layer, Layer]:
    top_c = top.temperature_c + hours * stirring.warming(top.temperature_c, sky, warmth, pond)
    low_c = low.temperature_c + hours * stirring.warming_below(sky, warmth, pond)
    return top._replace(temperature_c=top_c), low._replace(temperature_c=low_c)


def _mixed(top: Layer, low: Layer, speed_m_h: float, pond: HardPond, hours: float) -> tuple[Layer, Layer]:
    """Both layers after exchange at this speed: the difference fades, the sum stays."""
    flow = speed_m_h * pond.area_m2 * 1000.0
    gone = 1.0 - exp(-flow * hours * (1.0 / pond.surface_litres + 1.0 / pond.bottom_litres))
    share = pond.surface_share
    return blend(top, low, gone * (1.0 - share)), blend(low, top, gone * share)
