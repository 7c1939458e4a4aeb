"""Run a scenario: the pond minute by minute, the probes reading by reading, all from one seed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from random import Random
from typing import NamedTuple
from zoneinfo import ZoneInfo

from dawnline.water.carbonate import dic_from_ph
from dawnline_simulator import faults, happenings
from dawnline_simulator.faults import DatedFault, Line
from dawnline_simulator.happenings import Dated, Rain
from dawnline_simulator.pond import IONIC_STRENGTH_PER_CALCIUM, Forcing, PondState, fill, step
from dawnline_simulator.probes import Probe
from dawnline_simulator.processes import rates
from dawnline_simulator.scenario import Scenario
from dawnline_simulator.sun import irradiance_w_m2, sine_of_elevation
from dawnline_simulator.weather import Weather

MINUTE_MS = 60_000
DAY_MS = 86_400_000
LEAD_DAYS = 3  # days of weather before the story; the pond runs in for the last two
RUN_IN_DAYS = 2
AIR_LAG_S = 300.0  # a wet temperature probe in air; common sense


class Truth(NamedTuple):
    """What the pond really is."""

    ph: float
    temperature_c: float
    alkalinity_meq_l: float
    co2_umol_l: float


class Row(NamedTuple):
    """One reading: `ph` and `water` as the probes show them, whatever the line makes of it, beside the
    truth. `fell` is the rain since the start [mm], `rain` what a gauge shows of it [mm], where there is one.
    """

    at: int
    ph: float
    water: float
    line: Line
    truth: Truth
    event: str
    fell: float = 0.0
    rain: float | None = None


def simulate(
    scenario: Scenario, seed: int, start: int, days: float | None = None, interval_ms: int = 10_000
) -> Iterator[Row]:
    """Rows every `interval_ms` from `start` (Unix ms) for `days`, or the scenario's own.

    The same scenario, seed, start and interval give the same rows, and a shorter run is the beginning of a
    longer.
    """
    length = scenario.days if days is None else days
    zone = ZoneInfo(scenario.pond.timezone)
    course = Course(scenario, seed, start, length, zone)
    probes = _Probes(scenario, seed, interval_ms / 1000, zone, course.first_midnight)
    minute = _run_in(course, start)
    now, following = minute, course.follow(start, minute)
    minute_at, seen, fell = start, start - 1, 0.0
    rains = any(isinstance(what, Rain) for what in scenario.happenings)
    for at in range(start, start + round(length * DAY_MS), interval_ms):
        while at >= minute_at + MINUTE_MS:
            minute_at += MINUTE_MS
            now, following = following, course.follow(minute_at, following)
            fell += course.forcing(minute_at).rain_mm_h / 60.0 if rains else 0.0
        truth = _between(now, following, (at - minute_at) / MINUTE_MS)
        air_c = course.forcing(at).air_c if probes.in_air(at) else 0.0
        yield probes.row(at, truth, air_c, course.labels(seen, at))._replace(fell=fell)
        seen = at


class Course:
    """The pond's way through its story: forcing and state at any minute. For those who want no probe."""

    def __init__(self, scenario: Scenario, seed: int, start: int, days: float, zone: ZoneInfo) -> None:
        self.scenario = scenario
        local = datetime.fromtimestamp(start / 1000, zone)
        midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
        self.first_midnight = round(midnight.timestamp() * 1000)
        sky = _dice(seed, scenario.name, "weather")
        first = self.first_midnight - LEAD_DAYS * DAY_MS
        self._weather = Weather(scenario.climate, sky, first, LEAD_DAYS + int(days) + 3)
        self._dated = self._date(_dice(seed, scenario.name, "happenings"), zone)
        self._marks = self._mark(zone)

    def forcing(self, at: int) -> Forcing:
        """What the world does to the pond at a time."""
        pond = self.scenario.pond
        cloud, air_c, wind = self._weather.at(at)
        for dated in self._dated:
            cloud = happenings.cloud_at(cloud, dated, at)
        light = irradiance_w_m2(sine_of_elevation(at, pond.latitude, pond.longitude), cloud)
        forcing = Forcing(light, air_c, wind)
        for dated in self._dated:
            forcing = happenings.apply(forcing, dated, at)
        return forcing

    def follow(self, at: int, state: PondState) -> PondState:
        """The state one minute after `at`."""
        pond = self.scenario.pond
        return step(state, rates(state, self.forcing(at), pond), pond, 1.0 / 60.0)

    def labels(self, after: int, until: int) -> str:
        """What began or ended after the one time and until the other."""
        return "; ".join(label for at, label in self._marks if after < at <= until)

    def _date(self, dice: Random, zone: ZoneInfo) -> tuple[Dated, ...]:
        dated = []
        for what in self.scenario.happenings:
            shift, scale = dice.uniform(-1.0, 1.0), dice.uniform(-1.0, 1.0)
            if isinstance(what, Rain):
                depth = what.depth_mm * (1.0 + self.scenario.rain_scatter * scale)
                shift_ms = round(shift * self.scenario.shift_minutes * MINUTE_MS)
                dated.append(happenings.date(replace(what, depth_mm=depth), self.first_midnight, zone, shift_ms))
            else:
                dated.append(happenings.date(what, self.first_midnight, zone))
        return tuple(dated)

    def _mark(self, zone: ZoneInfo) -> list[tuple[int, str]]:
        marks: list[tuple[int, str]] = []
        for dated in self._dated:
            begin, end = happenings.LABELS[type(dated.what)]
            marks += [(dated.begin, begin), (dated.end, end)]
        for what in self.scenario.faults:
            fault = faults.date(what, self.first_midnight, zone)
            begin, end = faults.LABELS[type(what)]
            marks += [(fault.begin, begin), (fault.end, end)]
        return sorted((at, label) for at, label in marks if label)


class _Probes:
    """Both probes and the wire behind them."""

    def __init__(self, scenario: Scenario, seed: int, seconds: float, zone: ZoneInfo, midnight: int) -> None:
        self._seconds = seconds
        self._ph = Probe(scenario.ph_probe, _dice(seed, scenario.name, "ph"))
        self._water = Probe(scenario.water_probe, _dice(seed, scenario.name, "water"))
        self._air = faults.Air(_dice(seed, scenario.name, "air"))
        self._faults: tuple[DatedFault, ...] = tuple(faults.date(what, midnight, zone) for what in scenario.faults)

    def in_air(self, at: int) -> bool:
        return faults.out_of_water(self._faults, at)

    def row(self, at: int, truth: Truth, air_c: float, event: str) -> Row:
        drift = faults.drift_at(self._faults, at)
        if self.in_air(at):
            ph = self._ph.read(self._air.ph(truth.ph), self._seconds, drift=drift, lag_s=5.0)
            water = self._water.read(air_c, self._seconds, lag_s=AIR_LAG_S)
        else:
            self._air.back()
            ph = self._ph.read(truth.ph, self._seconds, drift=drift)
            water = self._water.read(truth.temperature_c, self._seconds)
        return Row(at, ph, water, faults.line_at(self._faults, at), truth, event)


def _dice(seed: int, name: str, stream: str) -> Random:
    # One stream a purpose: a longer run or another interval leaves the weather as it was.
    return Random(f"{seed}/{name}/{stream}")  # noqa: S311  a story, not a secret


def _run_in(course: Course, start: int) -> PondState:
    """Two days of the pond's own rhythm before the start; then the buffer is set to what the story says."""
    scenario = course.scenario
    want, calcium = scenario.alkalinity_meq_l, scenario.calcium_mmol_l
    state = fill(want, 7.4, scenario.water_c, calcium_mmol_l=calcium)
    for at in range(start - RUN_IN_DAYS * DAY_MS, start, MINUTE_MS):
        state = course.follow(at, state)
        if at % (60 * MINUTE_MS) == 0:
            state = _with_buffer(state, want, calcium)
    return _with_buffer(state, want, calcium)


def _with_buffer(state: PondState, alkalinity_meq_l: float, calcium_mmol_l: float) -> PondState:
    """The same CO2 over another alkalinity."""
    ph = state.ph
    strength = IONIC_STRENGTH_PER_CALCIUM * calcium_mmol_l / 1000
    dic = dic_from_ph(alkalinity_meq_l, ph, min(max(state.temperature_c, 0.0), 50.0), strength)
    return state._replace(alkalinity_meq_l=alkalinity_meq_l, dic_umol_l=dic, calcium_mmol_l=calcium_mmol_l)


def _between(one: PondState, two: PondState, share: float) -> Truth:
    return Truth(
        one.ph + share * (two.ph - one.ph),
        one.temperature_c + share * (two.temperature_c - one.temperature_c),
        one.alkalinity_meq_l + share * (two.alkalinity_meq_l - one.alkalinity_meq_l),
        one.co2_umol_l + share * (two.co2_umol_l - one.co2_umol_l),
    )
