"""What sits still: sediment, the filter's film and its nitrifiers, shell. Rates in umol/(L h) of the lower layer."""

from __future__ import annotations

from math import exp, sqrt
from typing import NamedTuple

from dawnline.water.calcite import saturation_ratio
from dawnline_simulator.hard_pond.gas import MG_PER_UMOL_OXYGEN
from dawnline_simulator.hard_pond.life import breathing
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.state import Layer, PondState, constants

CLEAN_SHELL_UMOL_M2_H = 3_000.0  # about the published far-from-balance rate of calcite near pH 7.5
AMMONIA_HALF = 15.0
NITRIFIERS_GROW_PER_DAY, NITRIFIERS_DIE_PER_DAY = 0.35, 0.06


class Beds(NamedTuple):
    """Carbon given off by film and sediment (and the oxygen it took), nitrogen turned, shell dissolved."""

    film: float
    sediment: float
    oxygen: float
    nitrification: float
    denitrification: float
    shell: float


def nitrifying(layer: Layer) -> float:
    """How well nitrifiers do here, 1 at 15 degC, pH 7.2 and above, and oxygen at will; 0 below pH 6.

    exp(0.098 (T - 15)) DO/(1.3 + DO) (1 - 0.833 (7.2 - pH)): US EPA (1975), Nitrogen Control (from memory).

    >>> water = Layer(15, 1000, 1100, 300, 5, 50, 500, 50, 50, ph=7.4)
    >>> nitrifying(water) > 2 * nitrifying(water._replace(ph=6.5)) > nitrifying(water._replace(ph=6.0))
    True
    """
    oxygen = max(layer.oxygen, 0.0) * MG_PER_UMOL_OXYGEN
    acid = min(1.0, max(0.0, 1.0 - 0.833 * (7.2 - layer.ph)))
    return exp(0.098 * (layer.temperature_c - 15.0)) * oxygen / (1.3 + oxygen) * acid


def resting(state: PondState, pond: HardPond) -> Beds:
    """All beds; they face the lower layer, from which the filter draws."""
    layer = state.bottom
    per_litre = 1e6 / pond.bottom_litres
    pace = pond.bed_q10 ** ((layer.temperature_c - 20.0) / 10.0)
    air = breathing(layer.oxygen, 30.0)
    film = pace * air * pond.film_per_day / 24.0 * state.film * per_litre
    # Sediment goes on without oxygen, at half its pace, and owes no oxygen for that.
    full = pace * pond.sediment_per_day / 24.0 * state.sediment * per_litre
    sediment = full * (0.5 + 0.5 * air)
    nitrification = (
        pond.nitrification_umol_l_h * pond.volume_litres / pond.bottom_litres * state.nitrifiers
        * nitrifying(layer) * layer.ammonia / (layer.ammonia + AMMONIA_HALF)
    )  # fmt: skip
    denitrification = (
        pace * pond.denitrification_umol_m2_h * pond.area_m2 / pond.bottom_litres * layer.nitrate
        / (layer.nitrate + 30.0)
    )  # fmt: skip
    return Beds(film, sediment, film + full * air, nitrification, denitrification, shell(state, pond))


def shell(state: PondState, pond: HardPond) -> float:
    """Shell dissolved [umol CaCO3/(L h)]: rate constant times (1 - sqrt(saturation)), none laid down.

    Form of Sjoberg (1976), Stockholm Contributions in Geology 30, 1 (from memory).
    """
    layer = state.bottom
    if state.shell_m2 <= 0.0 or layer.calcium <= 0.0:
        return 0.0
    celsius = min(max(layer.temperature_c, 0.0), 50.0)
    hydrogen = 10.0**-layer.ph
    saturation = saturation_ratio(layer.calcium * 1e-6, layer.co2 * 1e-6, hydrogen, constants(layer), celsius)
    if saturation >= 1.0:
        return 0.0
    return CLEAN_SHELL_UMOL_M2_H * state.shell_m2 * (1.0 - sqrt(max(saturation, 0.0))) / pond.bottom_litres


def nitrifier_growth(state: PondState) -> float:
    """Change of the filter's nitrifiers an hour: they follow their food by days."""
    layer = state.bottom
    food = layer.ammonia / (layer.ammonia + AMMONIA_HALF)
    rate = NITRIFIERS_GROW_PER_DAY * food * nitrifying(layer) * (1.0 - state.nitrifiers) - NITRIFIERS_DIE_PER_DAY
    return state.nitrifiers * rate / 24.0
