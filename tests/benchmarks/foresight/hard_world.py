"""Ponds of the harder model, varied by seed."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

from world import BEGIN, DAY_MS, HOUR_MS, PLACES, roll

from dawnline_simulator.hard_pond import events
from dawnline_simulator.hard_pond.course import Course, Event
from dawnline_simulator.hard_pond.electrode import Electrode, ElectrodeParameters
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.sky import HardClimate
from dawnline_simulator.hard_pond.state import PondState

DAYS = 45
STOCK = {"nights": (0.2, 0.9), "calm": (0.1, 0.5), "buffer": (0.5, 1.2)}  # kg of fish per m3


class HardInstrument(Electrode):
    """Its electrode."""

    def calibrate(self) -> float:
        """Set right, and cleaned while at it."""
        self.clean()
        return super().calibrate()


class HardWorld:
    """A two-layer pond. `purpose` is nights, calm or buffer: it sets how much buffer and fish there are."""

    def __init__(self, seed: int, purpose: str, kind: str) -> None:
        dice = roll("hard", purpose, seed, "pond")
        self.place = dice.choice(PLACES)
        self.begin = BEGIN + dice.randrange(-25, 80) * DAY_MS
        self.pond = self._pond(dice, purpose, kind)
        if kind == "bloom":
            self.pond = self._green(self.pond, dice)
        self.volume_litres = self.pond.volume_litres
        self.alkalinity = 1000.0 * _buffer(dice, purpose, kind)
        climate = HardClimate(
            clear_hours=dice.uniform(30.0, 120.0),
            dull_hours=dice.uniform(15.0, 60.0),
            front_c=dice.uniform(1.0, 2.5),
            wind_m_s=dice.uniform(1.0, 4.0),
            wet_share=dice.uniform(0.0, 0.1),
        )
        self.acid_ms = round(roll("hard", seed, "acid").uniform(1.0, 8.0) * HOUR_MS)
        self.course = Course(self.pond, climate, roll("hard", purpose, seed, "sky"), self.begin, days=DAYS)
        self._probe = ElectrodeParameters(
            in_surface=dice.choice((0.0, 0.5, 1.0)),
            temperature_error_c=dice.gauss(0.0, 1.5),
            lag_s=dice.uniform(15.0, 120.0),
            fouling_per_day=dice.uniform(0.05, 0.4),
            noise=dice.uniform(0.004, 0.02),
            spikes_per_day=dice.uniform(0.0, 3.0),
        )

    def _green(self, pond: HardPond, dice: Random) -> HardPond:
        """A sunny, still pond with few fish, where plankton grows thick."""
        fish = 0.15 * pond.volume_litres / 1000.0
        return replace(
            pond,
            shade=dice.uniform(0.0, 0.15),
            fish_kg=fish,
            feed_g_day=8.0 * fish,
            diffuser_per_hour=dice.uniform(0.02, 0.06),
            shelter=0.3,
            plankton_per_day=dice.uniform(2.2, 3.0),
            plankton_crowding=0.0009,
        )

    def _pond(self, dice: Random, purpose: str, kind: str) -> HardPond:
        volume = 1000.0 * dice.uniform(5.0, 35.0)
        least, most = STOCK[purpose]
        stock = dice.uniform(least, most)
        fish = stock * volume / 1000.0
        return HardPond(
            volume_litres=volume,
            depth_m=dice.uniform(0.9, 1.7),
            latitude=self.place.latitude,
            longitude=self.place.longitude,
            shade=dice.uniform(0.0, 0.5),
            shelter=dice.uniform(0.3, 0.9),
            diffuser_per_hour=dice.uniform(0.06, 0.3),
            diffuser_m_h=dice.uniform(0.1, 0.8),
            pump_m_h=dice.uniform(0.02, 0.4),
            fish_kg=fish,
            feed_g_day=fish * dice.uniform(6.0, 13.0),
            feed_ramp_per_day=0.5 / 14.0 if kind == "ramp" else 0.0,
            activity=dice.uniform(0.1, 0.4),
            plankton_per_day=dice.uniform(1.2, 2.4),
            walls_umol_m2_h=dice.uniform(4_000.0, 16_000.0),
            shell_m2=volume / 1000.0 * dice.uniform(0.4, 1.0) if kind == "shell" else 0.0,
            shell_coat_days=400.0,
            catchment_m2=dice.uniform(10.0, 60.0),
        )

    def start(self) -> PondState:
        return self.course.start(self.alkalinity)

    def follow(self, state: PondState, at: int, befalls: list[Event]) -> PondState:
        self.course.events = tuple(befalls)
        return self.course.follow(state, at)

    def ph(self, state: PondState) -> float:
        share = self.pond.surface_share
        return share * state.surface.ph + (1.0 - share) * state.bottom.ph

    def temperature_c(self, state: PondState) -> float:
        return state.surface.temperature_c

    def alkalinity_meq_l(self, state: PondState) -> float:
        share = self.pond.surface_share
        return (share * state.surface.alkalinity + (1.0 - share) * state.bottom.alkalinity) / 1000.0

    def instrument(self, seed: str) -> HardInstrument:
        return HardInstrument(self._probe, roll("hard", seed, "probe"))

    def disaster(self, kind: str, at: int, size: float) -> list[Any]:
        night = at + 14 * HOUR_MS
        match kind:
            case "air-stops":
                return [events.AirStops(at, night, power_cut=size > 1.5)]
            case "cloudburst":
                end = at + round(3 * HOUR_MS)
                return [events.Cloudburst(at, end, depth_mm=35.0 * size, labile=600.0 * size, alkalinity=-60.0)]
            case "acid":
                return [events.AcidSpill(at, at + self.acid_ms, dose=0.7 * self.alkalinity * size)]
            case "die-off":
                return [events.DieOff(at, at + 15 * HOUR_MS, per_hour=0.15 * size)]
            case "bloom":
                bloom = events.Bloom(at - 6 * DAY_MS, at, times=3.0)
                return [bloom, events.DieOff(at, at + 15 * HOUR_MS, per_hour=0.12 * size)]
        raise ValueError(kind)

    def water_change(self, at: int, share: float, source_meq_l: float) -> Any:
        dic = 1000.0 * source_meq_l * 1.08
        return events.WaterChange(at, at + HOUR_MS, share=share, alkalinity=1000.0 * source_meq_l, dic=dic)

    def aeration(self, at: int, times: float) -> Any:
        return events.Aeration(at, at + 90 * DAY_MS, times=times)


def _buffer(dice: Random, purpose: str, kind: str) -> float:
    """Alkalinity to begin with [meq/L]."""
    if purpose == "nights":
        return dice.uniform(0.2, 0.7)
    if purpose == "buffer":
        return dice.uniform(0.3, 0.7)
    return dice.uniform(0.9, 1.6) if kind in ("shell", "changes") else dice.uniform(1.4, 3.0)
