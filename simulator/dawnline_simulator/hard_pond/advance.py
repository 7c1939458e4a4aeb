"""One step of time: the rates of life, beds and air put into the books of both layers."""

from __future__ import annotations

from math import exp

from dawnline_simulator.hard_pond import beds, gas, life, stirring
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.sky import Sky
from dawnline_simulator.hard_pond.state import Layer, PondState, blend, settle

CARBON_PER_NITROGEN = 7.0  # of algae and of what becomes of them: near Redfield's 106 to 16
PHOTOSYNTHETIC_QUOTIENT = 1.1  # oxygen per carbon: ammonium and some nitrate
OXYGEN_PER_NITROGEN = 2.0
SINKING_M_H = 0.004
WALL_SHED_PER_H = 0.1 / 24.0


def advance(state: PondState, sky: Sky, push: Push, pond: HardPond, hours: float) -> PondState:
    """The pond `hours` later (a few minutes serve)."""
    top, low = state.surface, state.bottom
    state = state._replace(gut_g=state.gut_g + push.meal_g)
    murk = life.extinction_per_m(top.plankton)
    deep = exp(-murk * pond.surface_m)
    low_m = (pond.depth_m - pond.surface_m) / 2.0
    low_light = life.light_at(low_m, sky.light_w_m2 * deep, life.extinction_per_m(low.plankton))
    top_light = life.light_at(pond.surface_m / 2.0, sky.light_w_m2, murk)
    above = life.living(state, top, top_light, push, pond)
    below = life.living(state, low, low_light, push, pond)
    bed = beds.resting(state, pond)
    top_gas = gas.exchange(top, pond, sky.wind_m_s, push.air, at_surface=True)
    low_gas = gas.exchange(low, pond, 0.0, push.air, at_surface=False)
    sunk = SINKING_M_H / pond.surface_m * top.plankton
    sunk_low = SINKING_M_H / (2.0 * low_m) * low.plankton
    ratio = pond.surface_litres / pond.bottom_litres
    top_next = _book(top, above, None, top_gas, acid=push.acid_ueq_l_h, sunk=-sunk, pond=pond, hours=hours)
    low_next = _book(low, below, bed, low_gas, acid=0.0, sunk=sunk * ratio - sunk_low, pond=pond, hours=hours)
    warmth = stirring.VISIBLE * deep
    top_c = top.temperature_c + hours * stirring.warming(top.temperature_c, sky, warmth, pond)
    low_c = low.temperature_c + hours * stirring.warming_below(sky, warmth, pond)
    top_next, low_next = top_next._replace(temperature_c=top_c), low_next._replace(temperature_c=low_c)
    top_next, carbon, charge = _pour(top_next, sky, push, pond, hours)
    speed = stirring.stirring_m_h(top_c, low_c, sky, push, pond)
    top_next, low_next = _mix(top_next, low_next, speed, pond, hours)
    litres = (pond.surface_litres * 1e-6, pond.bottom_litres * 1e-6)
    living = litres[0] * (above.fish + top_gas[0]) + litres[1] * (below.fish + low_gas[0])
    faeces = state.gut_g / life.GUT_HOURS * life.CARBON_OF_FEED * life.FAECES / 12.011 * hours
    carbon += living * hours + faeces + litres[1] * bed.shell * hours
    charge -= litres[0] * push.acid_ueq_l_h * hours
    after = _beds_after(state, above, below, bed, sunk_low=sunk_low, faeces=faeces, push=push, pond=pond, hours=hours)
    return after._replace(
        surface=settle(top_next),
        bottom=settle(low_next),
        carbon_in=state.carbon_in + carbon,
        charge_in=state.charge_in + charge,
    )


def _book(
    layer: Layer, alive: life.Life, bed: beds.Beds | None, air: tuple[float, float], *, acid: float, sunk: float,
    pond: HardPond, hours: float,
) -> Layer:  # fmt: skip
    """One layer's gains and losses. Nitrogen follows carbon; alkalinity follows nitrogen and shell.

    Ammonia given off +1 eq/mol, taken up -1, nitrate taken up +1, nitrification -2, denitrification +1, shell +2:
    Wolf-Gladrow et al. (2007), Marine Chemistry 106, 287 (from memory).
    """
    rot = pond.labile_per_hour * 2.0 ** ((layer.temperature_c - 20.0) / 10.0) * layer.labile
    rot *= life.breathing(layer.oxygen, 15.0)
    gross = alive.plankton_gross + alive.wall_gross
    algae = alive.plankton_respiration + alive.wall_respiration
    film, sediment, owed, nitrified, denitrified, shell = bed or (0.0,) * 6
    given = alive.excretion + (algae + rot + film + sediment) / CARBON_PER_NITROGEN
    taken = gross / CARBON_PER_NITROGEN
    prefers = layer.ammonia / (layer.ammonia + 2.0) if layer.ammonia > 0.0 else 0.0
    ammonium, nitrate = prefers * taken, (1.0 - prefers) * taken
    dic = alive.fish + algae + rot + film + sediment + shell + air[0] - gross
    oxygen = PHOTOSYNTHETIC_QUOTIENT * (gross - algae) - alive.fish / life.RESPIRATORY_QUOTIENT - rot - owed
    oxygen += air[1] - OXYGEN_PER_NITROGEN * nitrified
    alkalinity = given - ammonium + nitrate - 2.0 * nitrified + denitrified + 2.0 * shell - acid
    return layer._replace(
        alkalinity=layer.alkalinity + hours * alkalinity,
        dic=layer.dic + hours * dic,
        oxygen=max(layer.oxygen + hours * oxygen, 0.0),
        ammonia=layer.ammonia + hours * (given - ammonium - nitrified),
        nitrate=layer.nitrate + hours * (nitrified - nitrate - denitrified),
        calcium=layer.calcium + hours * shell,
        plankton=layer.plankton + hours * (alive.plankton_gross - alive.plankton_respiration - alive.death + sunk),
        labile=layer.labile + hours * (alive.death - rot),
    )


def _pour(top: Layer, sky: Sky, push: Push, pond: HardPond, hours: float) -> tuple[Layer, float, float]:
    """Rain and tap into the upper layer, as much spills; with the carbon [mol] and charge [eq] that crossed."""
    carbon = charge = 0.0
    rain = sky.rain_mm_h + push.rain_mm_h
    if rain > 0.0:
        storm = push.rain_mm_h / rain
        alkalinity = storm * push.storm_alkalinity + (1.0 - storm) * pond.rain_alkalinity
        labile = storm * push.storm_labile + (1.0 - storm) * pond.rain_labile
        dic = 17.0 + max(alkalinity, 0.0)
        water = Layer(sky.air_c, alkalinity, dic, 280.0, 20.0, 20.0, 10.0, 0.0, labile, top.ph)
        share = rain * (pond.area_m2 + pond.catchment_m2) / pond.surface_litres * hours
        top, carbon, charge = _swap(top, water, share, pond)
    if push.tap is not None:
        top, more, charged = _swap(top, push.tap, push.inflow_per_h * hours, pond)
        carbon, charge = carbon + more, charge + charged
    return top, carbon, charge


def _swap(top: Layer, water: Layer, share: float, pond: HardPond) -> tuple[Layer, float, float]:
    after = blend(top, water, 1.0 - exp(-share))
    litres = pond.surface_litres * 1e-6

    def carbon(one: Layer) -> float:
        return one.dic + one.plankton + one.labile

    def charge(one: Layer) -> float:
        return one.alkalinity - one.ammonia + one.nitrate - 2.0 * one.calcium

    return after, litres * (carbon(after) - carbon(top)), litres * (charge(after) - charge(top))


def _mix(top: Layer, low: Layer, speed_m_h: float, pond: HardPond, hours: float) -> tuple[Layer, Layer]:
    """Both layers after exchange at this speed: the difference fades, the sum stays."""
    flow = speed_m_h * pond.area_m2 * 1000.0
    gone = 1.0 - exp(-flow * hours * (1.0 / pond.surface_litres + 1.0 / pond.bottom_litres))
    share = pond.surface_share
    return blend(top, low, gone * (1.0 - share)), blend(low, top, gone * share)


def _beds_after(
    state: PondState, above: life.Life, below: life.Life, bed: beds.Beds, *, sunk_low: float, faeces: float, push: Push,
    pond: HardPond, hours: float,
) -> PondState:  # fmt: skip
    top_l, low_l = pond.surface_litres * 1e-6, pond.bottom_litres * 1e-6
    grown = top_l * (above.wall_gross - above.wall_respiration) + low_l * (below.wall_gross - below.wall_respiration)
    shed = (WALL_SHED_PER_H + 0.2 * push.dying_per_h) * state.walls * hours
    return state._replace(
        gut_g=state.gut_g * exp(-hours / life.GUT_HOURS),
        film=state.film + faeces + 0.7 * shed - low_l * bed.film * hours,
        sediment=state.sediment + 0.3 * shed + low_l * (sunk_low - bed.sediment) * hours,
        walls=state.walls + grown * hours - shed,
        nitrifiers=max(state.nitrifiers + hours * beds.nitrifier_growth(state), 0.02),
        shell_m2=state.shell_m2 * exp(-hours / 24.0 / pond.shell_coat_days),
    )
