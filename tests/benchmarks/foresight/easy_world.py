"""Ponds of the ordinary simulator, its parameters varied by seed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Any

from world import BEGIN, DAY_MS, HOUR_MS, PLACES, STEP_MS, roll

from dawnline_simulator import happenings
from dawnline_simulator.happenings import Acid, AirStops, Bloom, Dated, Overcast, Rain
from dawnline_simulator.pond import Forcing, PondParameters, PondState, fill, step
from dawnline_simulator.probes import Probe, ProbeParameters
from dawnline_simulator.processes import rates
from dawnline_simulator.sun import irradiance_w_m2, sine_of_elevation
from dawnline_simulator.weather import Climate, Weather

DAYS = 45
HOURS = STEP_MS / HOUR_MS


@dataclass(frozen=True)
class Own:
    """What the simulator's own happenings do not know: `what` is rot, change or air."""

    what: str
    begin: int
    end: int
    size: float
    source_meq_l: float = 1.0


class EasyInstrument(Probe):
    """Its electrode."""

    def read(self, surroundings: Any, seconds: float, **_: Any) -> float:
        """Takes the state."""
        return super().read(surroundings.ph, seconds)

    def calibrate(self) -> None:
        """Set right in buffer solution."""
        self._wander = 0.0


class EasyWorld:
    """A stirred pond. `purpose` is nights, calm or buffer."""

    def __init__(self, seed: int, purpose: str, kind: str) -> None:
        dice = roll("easy", purpose, seed, "pond")
        self.place = dice.choice(PLACES)
        self.begin = BEGIN + dice.randrange(-25, 80) * DAY_MS
        self.kind = kind
        self.pond = self._pond(dice, purpose, kind)
        if kind == "bloom":  # sunny and still, with few fish
            breath, light = dice.uniform(2.0, 5.0), dice.uniform(60.0, 110.0)
            air = dice.uniform(0.01, 0.04)
            self.pond = replace(
                self.pond, respiration_umol_l_h=breath, photosynthesis_umol_l_h=light, aeration_per_hour=air
            )
        self.volume_litres = self.pond.volume_litres
        self.alkalinity = _buffer(dice, purpose, kind)
        self.calcium = dice.uniform(0.4, 0.8) * self.alkalinity
        climate = Climate(
            air_mean_c=dice.uniform(12.0, 21.0),
            air_scatter_c=dice.uniform(0.5, 2.0),
            cloud_mean=dice.uniform(0.2, 0.6),
            cloud_scatter=dice.uniform(0.1, 0.25),
            wind_mean_m_s=dice.uniform(0.8, 3.0),
        )
        self._weather = Weather(climate, roll("easy", purpose, seed, "sky"), self.begin, DAYS)
        self.acid_hours = roll("easy", seed, "acid").uniform(1.0, 8.0)
        self.water_c = climate.air_mean_c + 1.5
        self._probe = ProbeParameters(
            noise=dice.uniform(0.004, 0.02), lag_s=dice.uniform(15.0, 120.0), spikes_per_day=dice.uniform(0.0, 3.0)
        )
        self._ramped: tuple[int, PondParameters] = (-1, self.pond)

    def _pond(self, dice: Random, purpose: str, kind: str) -> PondParameters:
        volume = 1000.0 * dice.uniform(5.0, 35.0)
        feed = dice.uniform(4.0, 18.0) if purpose != "calm" else dice.uniform(2.0, 8.0)  # g a day per m3
        return PondParameters(
            volume_litres=volume,
            surface_m2=volume / 1000.0 / dice.uniform(0.9, 1.7),
            latitude=self.place.latitude,
            longitude=self.place.longitude,
            timezone=self.place.zone,
            exchange_per_hour=dice.uniform(0.015, 0.05),
            aeration_per_hour=dice.uniform(0.06, 0.25),
            respiration_umol_l_h=dice.uniform(4.0, 12.0),
            algae_respiration_umol_l_h=dice.uniform(1.5, 4.0),
            photosynthesis_umol_l_h=dice.uniform(15.0, 50.0),
            feed_g_day=feed * volume / 1000.0,
            shell_m2=volume / 1000.0 * dice.uniform(0.3, 0.8) if kind == "shell" else 0.0,
            catchment_m2=dice.uniform(10.0, 60.0),
        )

    def start(self) -> PondState:
        return fill(self.alkalinity, 7.4, self.water_c, calcium_mmol_l=self.calcium)

    def follow(self, state: PondState, at: int, befalls: list[Any]) -> PondState:
        cloud, air_c, wind = self._weather.at(at)
        for event in befalls:
            if isinstance(event, Dated):
                cloud = happenings.cloud_at(cloud, event, at)
        place = self.place
        light = irradiance_w_m2(sine_of_elevation(at, place.latitude, place.longitude), cloud)
        forcing = Forcing(light, air_c, wind)
        for event in befalls:
            if isinstance(event, Dated):
                forcing = happenings.apply(forcing, event, at)
            elif event.begin <= at < event.end:
                forcing, state = self._bear(forcing, state, event)
        pond = self._parameters(at)
        return step(state, rates(state, forcing, pond), pond, HOURS)

    def _parameters(self, at: int) -> PondParameters:
        """The pond as it is that day: in a ramp, feed and respiration grow by half in two weeks."""
        if self.kind != "ramp":
            return self.pond
        day = (at - self.begin) // DAY_MS
        if self._ramped[0] != day:
            more = 1.0 + 0.5 * day / 14.0
            feed, breath = self.pond.feed_g_day * more, self.pond.respiration_umol_l_h * more
            self._ramped = (day, replace(self.pond, feed_g_day=feed, respiration_umol_l_h=breath))
        return self._ramped[1]

    def _bear(self, forcing: Forcing, state: PondState, event: Own) -> tuple[Forcing, PondState]:
        part = STEP_MS / (event.end - event.begin)
        if event.what == "rot":
            state = state._replace(labile_umol_l=state.labile_umol_l + event.size * part)
            return forcing._replace(algae=0.3 * forcing.algae), state
        if event.what == "air":
            return forcing._replace(aeration=forcing.aeration * event.size), state
        share, tap = event.size * part, event.source_meq_l
        return forcing, state._replace(
            alkalinity_meq_l=state.alkalinity_meq_l + share * (tap - state.alkalinity_meq_l),
            dic_umol_l=state.dic_umol_l + share * (1080.0 * tap - state.dic_umol_l),
            calcium_mmol_l=state.calcium_mmol_l + share * (tap / 2.0 - state.calcium_mmol_l),
        )

    def ph(self, state: PondState) -> float:
        return state.ph

    def temperature_c(self, state: PondState) -> float:
        return state.temperature_c

    def alkalinity_meq_l(self, state: PondState) -> float:
        return state.alkalinity_meq_l

    def instrument(self, seed: str) -> EasyInstrument:
        return EasyInstrument(self._probe, roll("easy", seed, "probe"))

    def disaster(self, kind: str, at: int, size: float) -> list[Any]:
        night = at + 14 * HOUR_MS
        match kind:
            case "air-stops":
                return [Dated(AirStops(0, "", 14.0), at, night), Own("rot", at, night, 40.0 * (size - 1.0))]
            case "cloudburst":
                rain = Rain(0, "", 3.0, 40.0 * size, labile_umol_l=700.0 * size)
                return [Dated(Overcast(0, "", 14.0, 0.95), at, night), Dated(rain, at, at + 3 * HOUR_MS)]
            case "acid":
                return [
                    Dated(
                        Acid(0, "", self.acid_hours, 0.7 * self.alkalinity * size),
                        at,
                        at + round(self.acid_hours * HOUR_MS),
                    )
                ]
            case "die-off":
                return [Own("rot", at, night, 120.0 * size)]
            case "bloom":
                begin = at - 6 * DAY_MS
                bloom = Dated(Bloom(0, "", 96.0, 3.0), begin, begin + 4 * DAY_MS)
                return [bloom, Own("rot", at, night, 120.0 * size)]
        raise ValueError(kind)

    def water_change(self, at: int, share: float, source_meq_l: float) -> Any:
        return Own("change", at, at + HOUR_MS, share, source_meq_l)

    def aeration(self, at: int, times: float) -> Any:
        return Own("air", at, at + 90 * DAY_MS, times)


def _buffer(dice: Random, purpose: str, kind: str) -> float:
    """Alkalinity to begin with [meq/L]."""
    if purpose == "nights":
        return dice.uniform(0.3, 1.0)
    if purpose == "buffer":
        return dice.uniform(0.45, 0.9)
    return dice.uniform(0.9, 1.6) if kind in ("shell", "changes") else dice.uniform(1.2, 3.0)
