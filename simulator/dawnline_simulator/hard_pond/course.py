"""The pond's way through its days: weather and events put upon it, step by step."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from dawnline.water.carbonate import dic_from_ph
from dawnline_simulator.dice import Dice
from dawnline_simulator.hard_pond.advance import advance
from dawnline_simulator.hard_pond.events import (
    AcidSpill,
    Aeration,
    AirStops,
    Bloom,
    Cloudburst,
    DieOff,
    Event,
    FilterCleaned,
    FishAdded,
    WaterChange,
)
from dawnline_simulator.hard_pond.gas import oxygen_at_balance
from dawnline_simulator.hard_pond.life import meal_g
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.sky import DAY_MS, HOUR_MS, HardClimate, Sky, Spells, season_c
from dawnline_simulator.hard_pond.state import IONIC_STRENGTH_PER_CALCIUM, Layer, PondState, settle
from dawnline_simulator.sun import sine_of_elevation

STEP_MS: Final = 120_000


def fill(pond: HardPond, alkalinity: float, ph: float, celsius: float, plankton: float = 60.0) -> PondState:
    """A pond to begin with, both layers alike; `alkalinity` in ueq/L, calcium half of it as mol.

    >>> state = fill(HardPond(), 800.0, 7.5, 18.0)
    >>> round(state.surface.ph, 2), round(state.surface.oxygen)
    (7.5, 296)
    """
    calcium = alkalinity / 2.0
    dic = dic_from_ph(alkalinity / 1000.0, ph, celsius, IONIC_STRENGTH_PER_CALCIUM * calcium)
    layer = settle(Layer(celsius, alkalinity, dic, oxygen_at_balance(celsius), 8.0, 200.0, calcium, plankton, 40.0, ph))
    return PondState(layer, layer, fish_kg=pond.fish_kg, shell_m2=pond.shell_m2)


class Course:
    """A pond under its weather from `begin` (Unix ms) for `days`, with events.

    `follow` goes one step of `STEP_MS`; a state may be kept and followed again under other events.
    """

    def __init__(
        self, pond: HardPond, climate: HardClimate, dice: Dice, begin: int, *, days: int, events: Sequence[Event] = ()
    ) -> None:
        self.pond, self.begin = pond, begin
        self.events: tuple[Event, ...] = tuple(events)
        self._spells = Spells(climate, dice, begin, days + 1, latitude=pond.latitude, longitude=pond.longitude)

    def start(self, alkalinity: float, ph: float = 7.4) -> PondState:
        """Water at the season's temperature."""
        return fill(self.pond, alkalinity, ph, max(4.0, season_c(self.begin, self.pond.latitude)))

    def follow(self, state: PondState, at: int) -> PondState:
        """The state one step after `at`."""
        sky, push = self._spells.at(at), self._push(state, at)
        sky = sky._replace(light_w_m2=(1.0 - self.pond.shade) * sky.light_w_m2)
        for event in self.events:
            if event.on(at):
                sky = _bear(sky, push, event)
            if at <= event.begin < at + STEP_MS:
                state = _at_once(state, event)
        return advance(state, sky, push, self.pond, STEP_MS / HOUR_MS)

    def _push(self, state: PondState, at: int) -> Push:
        pond = self.pond
        solar_ms = (at + round(pond.longitude / 15.0 * HOUR_MS)) % DAY_MS
        sine = sine_of_elevation(at, pond.latitude, pond.longitude)
        days = (at - self.begin) / DAY_MS
        meal = meal_g(solar_ms, STEP_MS, state.surface.temperature_c, days, pond)
        return Push(sun=min(1.0, max(-1.0, 3.0 * sine)), meal_g=meal)


def _bear(sky: Sky, push: Push, event: Event) -> Sky:
    """Put one event upon the moment."""
    match event:
        case AirStops():
            push.air = 0.0
            push.pump = 0.0 if event.power_cut else push.pump
        case Aeration():
            push.air *= event.times
        case Cloudburst():
            push.rain_mm_h += event.depth_mm / event.hours
            push.storm_labile, push.storm_alkalinity = event.labile, event.alkalinity
            sky = sky._replace(cloud=1.0, light_w_m2=0.3 * sky.light_w_m2, wind_m_s=sky.wind_m_s + 2.0)
        case AcidSpill():
            push.acid_ueq_l_h += event.dose / event.hours
        case DieOff():
            push.dying_per_h += event.per_hour
        case Bloom():
            push.bloom *= event.times
        case WaterChange():
            push.inflow_per_h = event.share / event.hours
            calcium = event.alkalinity / 2.0
            push.tap = Layer(event.temperature_c, event.alkalinity, event.dic, 250.0, 0.0, 100.0, calcium, 0.0, 10.0)
    return sky


def _at_once(state: PondState, event: Event) -> PondState:
    if isinstance(event, FilterCleaned):
        return state._replace(
            film=state.film * event.kept,
            nitrifiers=state.nitrifiers * event.kept,
            carbon_in=state.carbon_in - state.film * (1.0 - event.kept),
        )
    if isinstance(event, FishAdded):
        return state._replace(fish_kg=state.fish_kg + event.kg)
    return state
