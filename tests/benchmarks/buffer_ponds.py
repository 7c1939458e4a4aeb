"""Ponds for the buffer benchmark: their dawn lows, water temperatures and alkalinity, day by day.

The pond of the simulator, stepped by ten minutes; what differs from pond to pond is drawn from the seed: volume, stock,
feed, exchange, weather, rain, buffer. `spent` ponds run out of buffer by themselves; `calm` ponds do not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from random import Random
from statistics import median
from zoneinfo import ZoneInfo

from dawnline_simulator.happenings import Rain
from dawnline_simulator.pond import Forcing, PondParameters, PondState, fill, step
from dawnline_simulator.processes import rates
from dawnline_simulator.scenario import Scenario
from dawnline_simulator.simulate import Course
from dawnline_simulator.weather import Climate

ZONE = ZoneInfo("Europe/Berlin")
STEP_MINUTES = 10
DAWN_STEPS = 9 * 60 // STEP_MINUTES  # midnight to about four hours after a summer sunrise
SETTLING_DAYS = 3
HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
LIMIT = 6.5


@dataclass
class Night:
    """One pond day: its true dawn low, the median water temperature [degC] of the day up to it, alkalinity [meq/L]."""

    at: int
    low: float
    water_c: float
    alkalinity: float


@dataclass
class Pond:
    """A pond's days; `crossed` is the index of the first night under the limit, None where there is none."""

    kind: str
    seed: int
    volume_litres: float
    surface_m2: float
    nights: list[Night]
    changes: list[tuple[int, float, float]] = field(default_factory=list)  # time, share, source [dKH]
    crossed: int | None = None


Change = Callable[[int, PondState, PondParameters], tuple[PondState, PondParameters]]
"""What is done at the start of a day: (day, state, parameters) to (state, parameters)."""


def spent(seed: int) -> Pond | None:
    """A pond whose buffer is used up between its 12th and 45th night; None where this seed gives no such pond."""
    found = _run("spent", seed, spent_scenario(seed), 45)
    return found if found.crossed is not None and found.crossed >= 12 else None


def spent_scenario(seed: int) -> Scenario:
    """The story of such a pond."""
    dice = Random(f"spent/{seed}")
    pond = _parameters(dice, shell=dice.choice((0.0, 0.0, 0.1, 0.3)))
    return _scenario("spent", dice, pond, dice.uniform(0.4, 1.6), rain=dice.random() < 0.4)


def calm(seed: int, kind: str, days: int = 24) -> Pond | None:
    """A pond that holds, of one kind; None where this seed's pond comes near the limit by itself."""
    dice = Random(f"calm/{kind}/{seed}")
    shell = dice.uniform(2.0, 8.0) if kind == "shell" else 0.0
    pond = _parameters(dice, shell=shell)
    fed = 0.5 if kind == "shell" else 0.25  # little is used, of much; or the shell gives what is used
    pond = replace(pond, nitrification_mg_l_day=2.4 * fed, feed_g_day=pond.feed_g_day * fed)
    alkalinity = dice.uniform(0.5, 1.2) if kind == "shell" else dice.uniform(1.0, 3.0)
    scenario = _scenario("calm", dice, pond, alkalinity, rain=dice.random() < 0.4)
    changes: list[tuple[int, float, float]] = []
    found = _run(kind, seed, scenario, days, _course_of(kind, dice, changes), free=25 if kind == "shell" else 0)
    midnight = found.nights[0].at - found.nights[0].at % DAY_MS
    found.changes = [(midnight + day * DAY_MS - 2 * HOUR_MS, share, source) for day, share, source in changes]
    held = found.nights[-1].alkalinity > 0.8 * found.nights[0].alkalinity
    return found if found.crossed is None and (held or kind != "shell") else None


KINDS = ("plain", "feed ramp", "aeration step", "water changes", "shell")


def _course_of(kind: str, dice: Random, changes: list[tuple[int, float, float]]) -> Change | None:
    if kind == "feed ramp":
        begin = dice.randint(3, 8)
        return lambda day, state, pond: (state, _fed_more(pond) if begin <= day < begin + 14 else pond)
    if kind == "aeration step":
        when, factor = dice.randint(8, 18), dice.choice((0.5, 0.7, 1.5, 2.0))
        return lambda day, state, pond: (
            state,
            replace(pond, aeration_per_hour=pond.aeration_per_hour * factor) if day == when else pond,
        )
    if kind == "water changes":
        share, source = dice.uniform(0.1, 0.25), dice.uniform(1.0, 8.0)

        def exchange(day: int, state: PondState, pond: PondParameters) -> tuple[PondState, PondParameters]:
            if day % 7 != 3:
                return state, pond
            changes.append((day, share, source))
            return _diluted(state, share, source * 0.35665), pond

        return exchange
    return None


def _fed_more(pond: PondParameters) -> PondParameters:
    grow = 1.5 ** (1 / 14)
    return replace(
        pond, feed_g_day=pond.feed_g_day * grow, respiration_umol_l_h=pond.respiration_umol_l_h * grow,
        nitrification_mg_l_day=pond.nitrification_mg_l_day * grow,
    )  # fmt: skip


def _diluted(state: PondState, share: float, source: float) -> PondState:
    """Part of the water replaced by water in balance with air."""
    keep = 1 - share
    return state._replace(
        alkalinity_meq_l=keep * state.alkalinity_meq_l + share * source,
        dic_umol_l=keep * state.dic_umol_l + share * (source * 1000 + 20),
        calcium_mmol_l=keep * state.calcium_mmol_l + share * source / 2,
        ammonia_mg_l=keep * state.ammonia_mg_l,
    )


def _parameters(dice: Random, shell: float) -> PondParameters:
    volume = dice.uniform(5_000, 30_000)
    stock = dice.uniform(0.5, 1.6)
    return PondParameters(
        volume_litres=volume,
        surface_m2=volume / 1000 / dice.uniform(0.9, 1.6),
        exchange_per_hour=dice.uniform(0.02, 0.06),
        aeration_per_hour=dice.uniform(0.05, 0.2),
        wind_per_hour=dice.uniform(0.001, 0.004),
        respiration_umol_l_h=9.0 * stock,
        algae_respiration_umol_l_h=dice.uniform(1.0, 5.0),
        photosynthesis_umol_l_h=dice.uniform(12.0, 45.0),
        feed_g_day=260.0 * stock * volume / 14_000 * dice.uniform(0.7, 1.3),
        nitrification_mg_l_day=dice.uniform(1.6, 5.0),
        shell_m2=shell,
        catchment_m2=dice.choice((0.0, 0.0, 20.0, 40.0)),
    )


def _scenario(name: str, dice: Random, pond: PondParameters, alkalinity: float, *, rain: bool) -> Scenario:
    mean = dice.uniform(12.0, 21.0)
    climate = Climate(mean, dice.uniform(3.0, 8.0), dice.uniform(0.6, 2.2), dice.uniform(0.2, 0.6),
                      dice.uniform(0.1, 0.3), dice.uniform(0.5, 3.0))  # fmt: skip
    rains = tuple(
        Rain(dice.randint(2, 45), "18:00", dice.uniform(2, 10), dice.uniform(2, 12), dice.uniform(0, 300))
        for _ in range(dice.randint(1, 5) if rain else 0)
    )
    calcium = alkalinity / 2 + dice.uniform(0.0, 0.3)
    return Scenario(name, 45, alkalinity, calcium, mean + 1, pond, climate, rains)


def _run(kind: str, seed: int, scenario: Scenario, days: int, change: Change | None = None, free: int = 0) -> Pond:
    """Days until the limit is crossed for the second time, `days` at most; `free` days of its own course go before."""
    begin = datetime(2026, 5, 20, tzinfo=ZONE)
    start = round((begin - timedelta(days=SETTLING_DAYS + free)).timestamp() * 1000)
    before = SETTLING_DAYS + free
    course = Course(scenario, seed, start, days + before, ZONE)
    pond, state = scenario.pond, fill(scenario.alkalinity_meq_l, 7.4, scenario.water_c,
                                      calcium_mmol_l=scenario.calcium_mmol_l)  # fmt: skip
    state = state._replace(ammonia_mg_l=0.3)
    found = Pond(kind, seed, pond.volume_litres, pond.surface_m2, [])
    below, warm = 0, [scenario.water_c]
    for day in range(-before, days):
        low, low_at, low_alkalinity = 14.0, 0, 0.0
        if change is not None and day > 0:
            state, pond = change(day, state, pond)
        for tick in range(24 * 60 // STEP_MINUTES):
            at = start + ((day + before) * 1440 + tick * STEP_MINUTES) * 60_000
            forcing: Forcing = course.forcing(at)
            state = step(state, rates(state, forcing, pond), pond, STEP_MINUTES / 60)
            warm.append(state.temperature_c)
            if tick < DAWN_STEPS and state.ph < low:
                low, low_at, low_alkalinity = state.ph, at, state.alkalinity_meq_l
            if tick == DAWN_STEPS:
                water, warm = median(warm), []
        if day >= 0:
            found.nights.append(Night(low_at, low, water, low_alkalinity))
            below += low < LIMIT
            if below == 1 and low < LIMIT:
                found.crossed = day
            if below >= 2:
                break
        elif day < -free:
            more = scenario.alkalinity_meq_l - state.alkalinity_meq_l
            state = state._replace(
                alkalinity_meq_l=scenario.alkalinity_meq_l, dic_umol_l=state.dic_umol_l + 1000 * more
            )
    return found
