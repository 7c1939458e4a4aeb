"""Ponds for the benchmark of the buffer's account: sixty days of each, with all that a keeper logs but tests.

`plain` is the simulator's pond, `hard` the second model, which shares none of its processes: two layers, algae that
take ammonium or nitrate, a filter that grows and owes, denitrification, decay.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from random import Random
from statistics import fmean
from typing import Any, NamedTuple

from buffer_ponds import DAY_MS, HOUR_MS, STEP_MINUTES, ZONE, _diluted, _parameters, _scenario

from dawnline.account.account import Climate
from dawnline.event import Act
from dawnline.outlook.settings import PondSettings
from dawnline.water.units import meq_l_from_dkh
from dawnline_simulator.happenings import Rain
from dawnline_simulator.hard_pond.course import STEP_MS
from dawnline_simulator.hard_pond.course import Course as HardCourse
from dawnline_simulator.hard_pond.events import WaterChange
from dawnline_simulator.hard_pond.life import meal_g
from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.sky import HardClimate, Spells
from dawnline_simulator.pond import fill, step
from dawnline_simulator.processes import rates
from dawnline_simulator.simulate import Course

DAYS = 60
BEGIN = round(datetime(2026, 5, 10, tzinfo=ZONE).timestamp() * 1000)
NOON_MS = DAY_MS // 2
LOW_DKH, DOSED_DKH = 1.3, 1.5  # below the one the keeper doses the other, on one day of the week
MEQ_PER_GRAM = 1000.0 / 84.0066


class Truth(NamedTuple):
    """One pond: its settings, what was logged but tests, its days (at noon: alkalinity, degC, mean pH)."""

    settings: PondSettings
    logged: list[Act]
    noons: list[tuple[int, float]]
    climate: dict[int, Climate]


def act(at: int, kind: str, **body: Any) -> Act:
    return Act(f"{kind}-{at}", at, kind, body)


def plain(seed: int) -> Truth:
    """Sixty days of one pond of the simulator."""
    dice = Random(f"account/{seed}")
    pond = _parameters(dice, shell=dice.choice((0.0, 0.0, 0.5, dice.uniform(2.0, 8.0))))
    scenario = _scenario("account", dice, pond, dice.uniform(0.7, 2.5), rain=False)
    rains = [Rain(dice.randint(2, DAYS - 2), "18:00", dice.uniform(3, 30), dice.uniform(1, 6), 50.0) for _ in range(9)]
    scenario = replace(scenario, happenings=tuple(rains), rain_scatter=0.0, days=DAYS)
    course = Course(scenario, seed, BEGIN, DAYS, ZONE)
    state = fill(scenario.alkalinity_meq_l, 7.4, scenario.water_c, calcium_mmol_l=scenario.calcium_mmol_l)
    changes, known = dice.random() < 0.5, dice.random() < 0.6
    share, source_dkh = dice.uniform(0.05, 0.2), dice.uniform(0.5, 8.0)
    protein = round(100 * pond.feed_protein)
    logged = [act(BEGIN, "feed", grams_a_day=round(pond.feed_g_day), protein_percent=protein)]
    midnight = course.first_midnight
    logged += [act(midnight + rain.day * DAY_MS + 19 * 3_600_000, "rain", mm=round(rain.depth_mm, 1)) for rain in rains]
    noons, climate = [], {}
    for day in range(DAYS):
        warm, values = [], []
        for tick in range(24 * 60 // STEP_MINUTES):
            at = BEGIN + day * DAY_MS + tick * STEP_MINUTES * 60_000
            state = step(state, rates(state, course.forcing(at), pond), pond, STEP_MINUTES / 60)
            warm.append(state.temperature_c)
            values.append(state.ph)
            if tick == 12 * 60 // STEP_MINUTES:
                noons.append((at, state.alkalinity_meq_l))
        end = BEGIN + (day + 1) * DAY_MS
        climate[(end - NOON_MS) // DAY_MS] = Climate(fmean(warm), fmean(values))
        if day % 14 == 9:
            factor = dice.uniform(0.6, 1.5)
            pond = replace(pond, feed_g_day=pond.feed_g_day * factor)
            logged.append(act(end, "feed", grams_a_day=round(pond.feed_g_day), protein_percent=protein))
        if changes and day % 7 == 4:
            state = _diluted(state, share, meq_l_from_dkh(source_dkh))
            body = {"source_kh_dkh": round(source_dkh)} if known else {}
            logged.append(act(end, "water-change", share=round(share, 2), **body))
        if day % 7 == 5 and state.alkalinity_meq_l < meq_l_from_dkh(LOW_DKH):
            grams = round(meq_l_from_dkh(DOSED_DKH) * pond.volume_litres / MEQ_PER_GRAM)
            added = grams * MEQ_PER_GRAM / pond.volume_litres
            state = state._replace(
                alkalinity_meq_l=state.alkalinity_meq_l + added, dic_umol_l=state.dic_umol_l + 1000 * added
            )
            logged.append(act(end, "dose", what="bicarbonate", grams=grams))
    settings = _settings(pond.volume_litres * dice.uniform(0.9, 1.1), pond.surface_m2)
    return Truth(settings, logged, noons, climate)


def hard(seed: int) -> Truth:
    """Sixty days of one hard pond."""
    dice = Random(f"account/hard/{seed}")
    pond = _hard_pond(dice)
    climate, sky = HardClimate(), Random(f"account/hard/{seed}/sky")
    course = HardCourse(pond, climate, sky, BEGIN, days=DAYS)
    weather = Spells(climate, Random(f"account/hard/{seed}/sky"), BEGIN, DAYS + 1, latitude=48.0, longitude=8.0)
    changes, known, share = dice.random() < 0.5, dice.random() < 0.6, round(dice.uniform(0.05, 0.2), 2)
    source_dkh = round(dice.uniform(0.5, 8.0))
    source = 1000.0 * meq_l_from_dkh(source_dkh)
    if changes:
        course.events = tuple(
            WaterChange(at, at + 2 * HOUR_MS, share, source, source + 60.0, 14.0)
            for at in range(BEGIN + 4 * DAY_MS, BEGIN + DAYS * DAY_MS, 7 * DAY_MS)
        )
    state = course.start(1000.0 * dice.uniform(0.7, 2.5))
    logged: list[Act] = []
    noons, warmth, fed = [], {}, []
    for day in range(DAYS):
        warm, values, eaten = [], [], 0.0
        for at in range(BEGIN + day * DAY_MS, BEGIN + (day + 1) * DAY_MS, STEP_MS):
            solar = (at + round(pond.longitude / 15.0 * HOUR_MS)) % DAY_MS
            eaten += meal_g(solar, STEP_MS, state.surface.temperature_c, (at - BEGIN) / DAY_MS, pond)
            state = course.follow(state, at)
            warm.append(state.surface.temperature_c)
            values.append(state.surface.ph)
            if (at - BEGIN) % DAY_MS == NOON_MS:
                noons.append((at, _alkalinity(state, pond)))
        end = BEGIN + (day + 1) * DAY_MS
        warmth[(end - NOON_MS) // DAY_MS] = Climate(fmean(warm), fmean(values))
        fed.append(eaten)
        if day % 7 == 6:
            mean = round(fmean(fed[-7:]))
            logged.append(act(end - 7 * DAY_MS, "feed", grams_a_day=mean, protein_percent=round(100 * pond.protein)))
        rain = sum(weather.at(end - DAY_MS + hour * HOUR_MS).rain_mm_h for hour in range(24))
        logged += [act(end, "rain", mm=round(rain, 1))] if rain else []
        if changes and day % 7 == 4:
            body = {"source_kh_dkh": source_dkh} if known else {}
            logged.append(act(end - DAY_MS + 2 * HOUR_MS, "water-change", share=share, **body))
        if day % 7 == 5 and _alkalinity(state, pond) < meq_l_from_dkh(LOW_DKH):
            grams = round(meq_l_from_dkh(DOSED_DKH) * pond.volume_litres / MEQ_PER_GRAM)
            added = 1000.0 * grams * MEQ_PER_GRAM / pond.volume_litres
            state = state._replace(
                surface=state.surface._replace(
                    alkalinity=state.surface.alkalinity + added, dic=state.surface.dic + added
                ),
                bottom=state.bottom._replace(alkalinity=state.bottom.alkalinity + added, dic=state.bottom.dic + added),
            )
            logged.append(act(end, "dose", what="bicarbonate", grams=grams))
    settings = _settings(pond.volume_litres * dice.uniform(0.9, 1.1), pond.area_m2)
    return Truth(settings, logged, noons, warmth)


def _hard_pond(dice: Random) -> HardPond:
    volume = 1000.0 * dice.uniform(5.0, 35.0)
    fish = dice.uniform(0.4, 1.4) * volume / 1000.0
    return HardPond(
        volume_litres=volume,
        depth_m=dice.uniform(0.9, 1.7),
        shade=dice.uniform(0.0, 0.5),
        shelter=dice.uniform(0.3, 0.9),
        diffuser_per_hour=dice.uniform(0.06, 0.3),
        fish_kg=fish,
        feed_g_day=fish * dice.uniform(6.0, 13.0),
        plankton_per_day=dice.uniform(1.2, 2.4),
        walls_umol_m2_h=dice.uniform(4_000.0, 16_000.0),
        shell_m2=dice.choice((0.0, 0.0, 0.2, 0.8)) * volume / 1000.0,
        shell_coat_days=dice.uniform(60.0, 400.0),
        catchment_m2=dice.choice((0.0, 0.0, 20.0, 40.0)),
    )


def _alkalinity(state: Any, pond: HardPond) -> float:
    share = pond.surface_share
    return (share * state.surface.alkalinity + (1.0 - share) * state.bottom.alkalinity) / 1000.0


def _settings(litres: float, surface_m2: float) -> PondSettings:
    return PondSettings(
        name="pond", latitude=47.95, longitude=8.21, timezone="Europe/Berlin", volume_litres=litres,
        surface_m2=surface_m2,
    )  # fmt: skip
