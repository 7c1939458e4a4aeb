"""The buffer's account against the truth of simulated ponds: how far it is off, beside "the last test still holds".

Fifty ponds over sixty days: shell or none, feed that changes, rain (some of it off a roof that the account does not
know of), water changes with and without a known KH, doses when KH runs low. The keeper tests KH by a kit of 1 dKH, once
a week or once in thirty days; every act is logged. Compared with the pond's true alkalinity each noon from the eighth
day on. The simulator has the same stoichiometry and much the same curve for cold and acid water as the account, so it
flatters; what it hides from it are the filter's reserve, the shell, the roof and the ammonia that waits in the water.

Usage: account.py [--dev] [--ponds N]: --dev takes other ponds, for trying things out.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import datetime
from math import ceil
from pathlib import Path
from random import Random
from statistics import fmean, quantiles
from typing import Any, NamedTuple

sys.path.insert(0, str(Path(__file__).parent))

from buffer_ponds import DAY_MS, STEP_MINUTES, ZONE, _diluted, _parameters, _scenario

from dawnline.account.account import Climate, account
from dawnline.account.lines import Stepped, lines_of
from dawnline.event import Act
from dawnline.outlook.settings import PondSettings
from dawnline.water.units import dkh_from_meq_l, meq_l_from_dkh
from dawnline_simulator.happenings import Rain
from dawnline_simulator.pond import fill, step
from dawnline_simulator.processes import rates
from dawnline_simulator.simulate import Course

DAYS = 60
BEGIN = round(datetime(2026, 5, 10, tzinfo=ZONE).timestamp() * 1000)
KIT_DKH = 1.0
NOON_MS = DAY_MS // 2
EVERY = (7, 30)
MEQ_PER_GRAM = 1000.0 / 84.0066


class Truth(NamedTuple):
    """One pond: its settings, what was logged but tests, its days (at noon: alkalinity, degC, mean pH)."""

    settings: PondSettings
    logged: list[Act]
    noons: list[tuple[int, float]]
    climate: dict[int, Climate]


def act(at: int, kind: str, **body: Any) -> Act:
    return Act(f"{kind}-{at}", at, kind, body)


def pond_of(seed: int) -> Truth:
    """One pond's sixty days."""
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
        if day % 7 == 5 and state.alkalinity_meq_l < meq_l_from_dkh(1.3):
            grams = round(meq_l_from_dkh(1.5) * pond.volume_litres / MEQ_PER_GRAM)
            added = grams * MEQ_PER_GRAM / pond.volume_litres
            state = state._replace(
                alkalinity_meq_l=state.alkalinity_meq_l + added, dic_umol_l=state.dic_umol_l + 1000 * added
            )
            logged.append(act(end, "dose", what="bicarbonate", grams=grams))
    settings = PondSettings(
        name="pond", latitude=47.95, longitude=8.21, timezone="Europe/Berlin",
        volume_litres=pond.volume_litres * dice.uniform(0.9, 1.1), surface_m2=pond.surface_m2,
    )  # fmt: skip
    return Truth(settings, logged, noons, climate)


def read(alkalinity: float, dice: Random) -> float:
    """What a kit of 1 dKH shows: the drop at which the colour turns, by an eye that is a little off."""
    return max(ceil(dkh_from_meq_l(alkalinity) / KIT_DKH + dice.gauss(0.0, 0.15)), 1) * KIT_DKH


def after_known_steps(alkalinity: float, pond: Truth, since: int, at: int) -> float:
    """The last test, with what was dosed, rained and changed since: a keeper who reckons, but for the daily loss."""
    for line in lines_of(pond.logged, pond.settings):
        if isinstance(line, Stepped) and since < line.at <= at:
            alkalinity = line.keeps * alkalinity + ((1 - line.keeps) * alkalinity if line.adds is None else line.adds)
    return alkalinity


class Found(NamedTuple):
    """Errors in dKH, day by day; and how often the truth lay within eight-of-ten bounds."""

    ours: list[float]
    holds: list[float]
    known_steps: list[float]
    within: list[bool]


def judge(pond: Truth, every: int, seed: int) -> Found:
    """The account of one pond with a test every so many days."""
    dice, found = Random(f"kit/{seed}/{every}"), Found([], [], [], [])
    tests: list[Act] = []
    for day, (at, alkalinity) in enumerate(pond.noons):
        if day % every == 0:
            tests.append(act(at, "hand-test", kh_dkh=read(alkalinity, dice), kh_step_dkh=KIT_DKH))
        if day < 8:
            continue
        said = account([*pond.logged, *tests], pond.climate, pond.settings, at)
        point = said.points[-1]
        found.ours.append(dkh_from_meq_l(point.alkalinity - alkalinity))
        last = tests[-1].body["kh_dkh"] - KIT_DKH / 2.0
        found.holds.append(last - dkh_from_meq_l(alkalinity))
        stepped = after_known_steps(meq_l_from_dkh(last), pond, tests[-1].at, at)
        found.known_steps.append(dkh_from_meq_l(stepped - alkalinity))
        found.within.append(abs(point.alkalinity - alkalinity) <= 1.2816 * point.sd)
    return found


def row(name: str, errors: list[float]) -> str:
    sizes = sorted(abs(error) for error in errors)
    ninth = quantiles(sizes, n=10)[-1]
    return f"  {name:<28} mean {fmean(sizes):.2f}   nine of ten within {ninth:.2f}   bias {fmean(errors):+.2f}"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--dev", action="store_true", help="other ponds, for trying things out")
    parser.add_argument("--ponds", type=int, default=50)
    args = parser.parse_args()
    first = 10_000 if args.dev else 0
    ponds = [pond_of(first + n) for n in range(args.ponds)]
    print(f"{len(ponds)} ponds, {DAYS} days, kit of {KIT_DKH:g} dKH; error of KH in dKH")
    for every in EVERY:
        found = [judge(pond, every, first + n) for n, pond in enumerate(ponds)]
        print(f"a test every {every} days")
        print(row("the account", [error for each in found for error in each.ours]))
        print(row("the last test still holds", [error for each in found for error in each.holds]))
        print(row("the same with known steps", [error for each in found for error in each.known_steps]))
        within = fmean(inside for each in found for inside in each.within)
        better = sum(fmean(map(abs, each.ours)) < fmean(map(abs, each.holds)) for each in found)
        print(f"  bounds meant for eight in ten hold {within:.0%}; better than the last test in {better} ponds")
    return 0


if __name__ == "__main__":
    sys.exit(main())
