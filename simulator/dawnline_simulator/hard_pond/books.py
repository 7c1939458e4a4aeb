"""The books: what each rate takes from one account and gives to another."""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from dawnline_simulator.hard_pond import life
from dawnline_simulator.hard_pond.beds import Beds, nitrifier_growth
from dawnline_simulator.hard_pond.life import Life
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.state import Layer, PondState

CARBON_PER_NITROGEN = 7.0  # of algae and of what becomes of them: near Redfield's 106 to 16
PHOTOSYNTHETIC_QUOTIENT = 1.1  # oxygen per carbon: ammonium and some nitrate
OXYGEN_PER_NITROGEN = 2.0
WALL_SHED_PER_H = 0.1 / 24.0
TO_FILM = 0.7  # of what the walls shed; the rest sinks
CARBON_G_MOL = 12.011


class Flows(NamedTuple):
    """All rates of a moment, umol/(L h): life above and below, beds, gas as (CO2, oxygen), plankton that sinks."""

    above: Life
    below: Life
    bed: Beds
    top_gas: tuple[float, float]
    low_gas: tuple[float, float]
    sunk: float
    sunk_low: float


def water_after(state: PondState, flows: Flows, push: Push, pond: HardPond, hours: float) -> tuple[Layer, Layer]:
    """Both layers after `hours` of these flows, not yet mixed nor settled."""
    comes = flows.sunk * pond.surface_litres / pond.bottom_litres - flows.sunk_low
    top = _book(
        state.surface,
        flows.above,
        None,
        flows.top_gas,
        acid=push.acid_ueq_l_h,
        sunk=-flows.sunk,
        pond=pond,
        hours=hours,
    )
    return top, _book(state.bottom, flows.below, flows.bed, flows.low_gas, acid=0.0, sunk=comes, pond=pond, hours=hours)


def crossed(state: PondState, flows: Flows, push: Push, pond: HardPond, hours: float) -> tuple[float, float]:
    """Carbon [mol] and charge [eq] that fish, feed, air, shell and acid brought across the border."""
    top_l, low_l = pond.surface_litres * 1e-6, pond.bottom_litres * 1e-6
    carbon = top_l * (flows.above.fish + flows.top_gas[0])
    carbon += low_l * (flows.below.fish + flows.low_gas[0] + flows.bed.shell)
    return carbon * hours + _faeces_mol(state, hours), -top_l * push.acid_ueq_l_h * hours


def beds_after(state: PondState, flows: Flows, push: Push, pond: HardPond, hours: float) -> PondState:
    """What sits still, after `hours` of these flows; the layers are as before."""
    top_l, low_l = pond.surface_litres * 1e-6, pond.bottom_litres * 1e-6
    above, below, bed = flows.above, flows.below, flows.bed
    grown = top_l * (above.wall_gross - above.wall_respiration) + low_l * (below.wall_gross - below.wall_respiration)
    shed = (WALL_SHED_PER_H + 0.2 * push.dying_per_h) * state.walls * hours
    sank = low_l * (flows.sunk_low - bed.sediment) * hours
    return state._replace(
        gut_g=state.gut_g * exp(-hours / life.GUT_HOURS),
        film=state.film + _faeces_mol(state, hours) + TO_FILM * shed - low_l * bed.film * hours,
        sediment=state.sediment + (1.0 - TO_FILM) * shed + sank,
        walls=state.walls + grown * hours - shed,
        nitrifiers=max(state.nitrifiers + hours * nitrifier_growth(state), 0.02),
        shell_m2=state.shell_m2 * exp(-hours / 24.0 / pond.shell_coat_days),
    )


def _faeces_mol(state: PondState, hours: float) -> float:
    carbon_g = state.gut_g / life.GUT_HOURS * life.CARBON_OF_FEED * life.FAECES * hours
    return carbon_g / CARBON_G_MOL


def _book(
    layer: Layer, alive: Life, bed: Beds | None, air: tuple[float, float], *, acid: float, sunk: float,
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
