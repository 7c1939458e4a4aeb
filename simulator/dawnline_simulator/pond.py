"""The pond itself: a stirred tank of water with fish, algae, a filter, a shell chamber and the air above
it.

What is kept is alkalinity, inorganic carbon (DIC), calcium, ammonia, loose organic matter and heat; pH and
CO2 follow from them by `dawnline.water`. `step` carries the state through one stretch of time (a minute
serves; the fastest process takes hours) with the rates of processes.py, so what one account loses another
gains or leaves by name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from dawnline.water.carbonate import dic_from_ph, ph_of_carbon
from dawnline.water.conditional import Conditional, conditional

# Ca++ with two single anions, (4 + 1 + 1)/2: it holds when nitrate takes bicarbonate's place.
IONIC_STRENGTH_PER_CALCIUM = 3.0


@dataclass(frozen=True, slots=True)
class PondParameters:
    """Everything a pond is made of; the default is Heron Lane in good order. Rates are at 20 degC.

    Sizes as the story has them; rates chosen so that a pond of this stocking breathes as published
    fish-culture budgets do (0.25 to 0.5 kg of oxygen per kg of feed), otherwise common sense, no source.
    """

    volume_litres: float = 14_000.0
    surface_m2: float = 12.0
    latitude: float = 47.95
    longitude: float = 8.21
    timezone: str = "Europe/Berlin"
    # exchange of CO2 with the air
    air_co2_uatm: float = 425.0
    exchange_per_hour: float = 0.035  # still water
    aeration_per_hour: float = 0.115  # what the air pump adds
    wind_per_hour: float = 0.002  # times the square of the wind in m/s
    # life
    respiration_umol_l_h: float = 9.0  # fish and filter bed
    algae_respiration_umol_l_h: float = 3.0
    photosynthesis_umol_l_h: float = 34.0  # in full light with carbon at will
    light_half_w_m2: float = 350.0
    carbon_half_umol_l: float = 25.0
    bicarbonate_use: float = 0.01  # how well algae use HCO3-, beside CO2
    q10: float = 2.0
    feed_g_day: float = 260.0
    feed_protein: float = 0.38
    nitrification_mg_l_day: float = 3.0  # what the filter can do at best, as N
    ammonia_half_mg_l: float = 0.3
    labile_per_hour: float = 0.12  # decay of loose organic matter
    # buffer
    shell_m2: float = 5.0  # clean calcite surface in the chamber
    # rain
    catchment_m2: float = 40.0  # roof that drains into the pond
    rain_alkalinity_meq_l: float = -0.03  # rain of about pH 4.5
    # heat
    heat_hours: float = 40.0  # how long the water takes to follow the air
    sun_c_per_hour: float = 0.00032  # per W/m2


class PondState(NamedTuple):
    """What the water holds, per litre; `ph` and `co2_umol_l` belong to the rest and are never set by
    hand.
    """

    alkalinity_meq_l: float
    dic_umol_l: float
    calcium_mmol_l: float
    ammonia_mg_l: float  # total, as N
    labile_umol_l: float  # loose organic carbon
    temperature_c: float
    ph: float
    co2_umol_l: float


class Forcing(NamedTuple):
    """What the world does to the pond just now."""

    light_w_m2: float
    air_c: float
    wind_m_s: float
    rain_mm_h: float = 0.0
    rain_labile_umol_l: float = 0.0
    aeration: float = 1.0  # share of the pump that runs
    acid_meq_l_h: float = 0.0
    algae: float = 1.0  # how many times the ordinary amount


class Rates(NamedTuple):
    """What goes on, per litre and hour; all positive in their own direction."""

    photosynthesis: float  # umol C taken up
    respiration: float  # umol C given off
    decay: float  # umol C of loose organic matter turned to CO2
    exchange: float  # umol C from the air, negative to the air
    excretion: float  # mg N
    nitrification: float  # mg N
    dissolution: float  # umol CaCO3
    inflow: float  # share of the volume replaced by rain; as much spills
    inflow_labile: float  # umol C a litre of inflow carries
    acid: float  # meq
    warming: float  # degC


def constants(calcium_mmol_l: float, temperature_c: float) -> Conditional:
    """Carbonate constants in this water; water colder than 0 or hotter than 50 degC counts as 0 or 50."""
    strength = IONIC_STRENGTH_PER_CALCIUM * max(calcium_mmol_l, 0.0) / 1000.0
    return conditional(min(max(temperature_c, 0.0), 50.0), strength)


def fill(alkalinity_meq_l: float, ph: float, temperature_c: float, *, calcium_mmol_l: float | None = None) -> PondState:
    """Water to begin with; calcium is by default half the alkalinity. Raises ValueError as `dic_from_ph`
    does.

    >>> round(fill(1.0, 7.4, 16.0).ph, 3)
    7.4
    """
    calcium = alkalinity_meq_l / 2.0 if calcium_mmol_l is None else calcium_mmol_l
    strength = IONIC_STRENGTH_PER_CALCIUM * calcium / 1000.0
    dic = dic_from_ph(alkalinity_meq_l, ph, temperature_c, strength)
    return _settle(PondState(alkalinity_meq_l, dic, calcium, 0.1, 0.0, temperature_c, ph, 0.0))


def step(state: PondState, rates: Rates, parameters: PondParameters, hours: float) -> PondState:
    """The pond `hours` later, each rate taken as steady meanwhile.

    Alkalinity: ammonia that the fish give off brings 1 eq per mol N (NH3 + H+ = NH4+), nitrification takes
    2 (NH4+ + 2 O2 = NO3- + 2 H+ + H2O: Ebeling, Timmons and Bisogni 2006, Aquaculture 257, 346), so feed
    takes 1 eq in the end (Wolf-Gladrow et al. 2007, Marine Chemistry 106, 287, from memory); shell gives
    2 eq per mol, rain dilutes, acid is acid; CO2 alone never changes it.
    """
    spill = rates.inflow * hours
    nitrogen = (rates.excretion - 2.0 * rates.nitrification) / 14.0067
    alkalinity = state.alkalinity_meq_l + hours * (2e-3 * rates.dissolution + nitrogen - rates.acid)
    alkalinity += spill * (parameters.rain_alkalinity_meq_l - state.alkalinity_meq_l)
    gained = rates.respiration + rates.decay + rates.exchange + rates.dissolution - rates.photosynthesis
    rain_dic = 17.0  # umol/L, rain in balance with the air at 15 degC
    dic = state.dic_umol_l + hours * gained + spill * (rain_dic - state.dic_umol_l)
    ammonia = state.ammonia_mg_l + hours * (rates.excretion - rates.nitrification) - spill * state.ammonia_mg_l
    labile = state.labile_umol_l - hours * rates.decay + spill * (rates.inflow_labile - state.labile_umol_l)
    calcium = state.calcium_mmol_l + hours * rates.dissolution * 1e-3 - spill * state.calcium_mmol_l
    temperature = state.temperature_c + hours * rates.warming
    following = PondState(
        alkalinity, max(dic, 0.0), calcium, max(ammonia, 0.0), labile, temperature, state.ph, state.co2_umol_l
    )
    return _settle(following)


def _settle(state: PondState) -> PondState:
    """The state with the pH and CO2 that belong to it; its old pH is the first guess."""
    k = constants(state.calcium_mmol_l, state.temperature_c)
    ph = ph_of_carbon(state.alkalinity_meq_l * 1e-3, state.dic_umol_l * 1e-6, k, state.ph)
    co2 = state.dic_umol_l / (1.0 + k.k1 * 10.0**ph * (1.0 + k.k2 * 10.0**ph))
    return state._replace(ph=ph, co2_umol_l=co2)
