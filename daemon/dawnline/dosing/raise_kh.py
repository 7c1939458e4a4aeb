"""Raising KH with sodium bicarbonate: how many grams, over how many days.

KH is raised for its own sake; pH follows it slowly, once the carbon dioxide has left. So the daily limit holds for the
pH in balance with the air, not for that of the first hour, which hardly moves. After a crash the filter has stopped and
ammonia has built up: harmless while the water is acid, poison when its pH rises. Then the first step only leads to
where fish are out of danger, and the others follow day by day behind tests.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Final, NamedTuple

from dawnline.dosing.plan import (
    DAILY_DKH,
    DAILY_PH,
    DEFER,
    Plan,
    Refusal,
    Step,
    ammonia_caution,
    follow,
    refuse,
    volume_refusal,
)
from dawnline.dosing.pond_water import LEAST_PH, PondWater
from dawnline.dosing.substances import raising
from dawnline.typed.measures import MASS
from dawnline.typed.shown import shown
from dawnline.water.ammonia import HARMFUL_FROM
from dawnline.water.doses import Water, aired, bicarbonate_g, with_bicarbonate
from dawnline.water.units import dkh_from_meq_l, meq_l_from_dkh, mg_l_co2_from_umol_l

KIND: Final = "raise-kh"
MOST_TARGET_DKH: Final = 10.0  # common practice aims at 4 to 6 and gains nothing beyond; no source
AFTER_CRASH_PH: Final = 6.8  # to which a first step may lead; common practice, no source
MOST_DAYS: Final = 60
LEAST_STEP_MEQ_L: Final = 0.005
LITTLE_OFF: Final = 0.7
MUCH_CO2_MG_L: Final = 40.0  # fish suffer from 20 on; common practice, no source
CAUTIONS: Final = (
    "Weigh it: a level cup of bicarbonate can be 15 % more or less. Dissolve each day's dose in a bucket of pond water "
    "and pour it slowly where the water moves, in the morning, with the air running.",
    "Test KH and pH the next day before the next step, and log them; stop if the fish are uneasy.",
)
AFTER_CRASH: Final = (
    "Stop feeding. A filter that stood in acid water takes days to work again: test ammonia and nitrite daily.",
)


class _Pace(NamedTuple):
    """How far the water has come: the likeliest, and the least its alkalinity may be [meq/L]."""

    water: Water
    low: float


def raise_kh(
    pond: PondWater, target_dkh: float, substance: str = "sodium bicarbonate", days: int | None = None
) -> Plan:
    """The plan to a target KH; `days` is what the keeper would like it to take, and refused where that is too fast.

    Raises ValueError where a value of the pond's lies outside what the chemistry holds for.
    """
    found = [each for each in (raising(substance), _target(target_dkh), volume_refusal(pond)) if each is not None]
    if pond.ph is not None and pond.ph.value < LEAST_PH:
        why = f"at pH {pond.ph.value:.1f} the water is acid: no bicarbonate is left, and more than nitrification did it"
        found.append(Refusal(why, "change part of the water for water that has KH; find what got in; call a vet"))
    if pond.kh is None:
        found.append(Refusal("the present KH is not known", "test KH by hand and log it, or give --kh"))
    if found or pond.kh is None or pond.litres is None:
        return refuse(KIND, pond, *found)
    pond.checked()
    target = meq_l_from_dkh(target_dkh)
    if pond.kh.value >= target:
        advice = (f"KH is {dkh_from_meq_l(pond.kh.value):.1f} dKH already: there is nothing to add.",)
        return Plan(KIND, pond.used(), advice=advice, cautions=DEFER)
    steps, why = _steps(pond, target)
    if not steps:
        return refuse(KIND, pond, _stopped(pond, why), cautions=AFTER_CRASH if pond.crashed else ())
    if days is not None and not why and len(steps) > days:
        return refuse(KIND, pond, _too_fast(pond, steps, target, days))
    return Plan(KIND, pond.used(), tuple(steps), (), _advice(pond, steps, why, target_dkh), _cautions(pond, steps))


def _target(target_dkh: float) -> Refusal | None:
    if 0.0 < target_dkh <= MOST_TARGET_DKH:
        return None
    why = f"a target of {target_dkh:g} dKH is out of reason for a pond; beyond {MOST_TARGET_DKH:g} nothing is gained"
    return Refusal(why, "aim at 4 to 6 dKH (common practice)")


def _steps(pond: PondWater, target: float) -> tuple[list[Step], str]:
    """The steps day by day, and why they end before the target, "" where they reach it."""
    assert pond.litres is not None
    pace, steps = _Pace(pond.water, pond.low), list[Step]()
    while pace.water.alkalinity_meq_l < target - 1e-9 and len(steps) < MOST_DAYS:
        now = replace(pond, crashed=pond.crashed if not steps else "")
        added, why = _most(pond, now, pace, target)
        if added < min(LEAST_STEP_MEQ_L, target - pace.water.alkalinity_meq_l):
            return steps, why
        after = with_bicarbonate(pace.water, added)
        grams = bicarbonate_g(added, pond.litres.value)
        steps.append(follow(pond, after, len(steps) + 1, grams))
        pace = _Pace(aired(after), pace.low + added)
        if pond.crashed and pond.tan is None:
            return steps, "untested"
    return steps, ""


def _most(pond: PondWater, now: PondWater, pace: _Pace, target: float) -> tuple[float, str]:
    """The largest addition [meq/L] that every limit allows today, and the name of the limit that binds."""
    water, low = pace.water, pace.water._replace(alkalinity_meq_l=pace.low)
    before = aired(low).ph
    ceiling = max(before + DAILY_PH, AFTER_CRASH_PH) if now.crashed else before + DAILY_PH

    def rises_slowly(added: float) -> bool:
        return aired(with_bicarbonate(low, added)).ph <= ceiling + 1e-9

    def stays_low(added: float) -> bool:
        return not now.crashed or with_bicarbonate(water, added).ph <= AFTER_CRASH_PH

    def harms_nobody(added: float) -> bool:
        poison = follow(pond, with_bicarbonate(water, added), 1, 0.0).unionised
        return poison is None or poison < HARMFUL_FROM

    most, why = min(meq_l_from_dkh(DAILY_DKH), target - water.alkalinity_meq_l), ""
    limits = (("rise", rises_slowly), ("crash", stays_low), ("ammonia", harms_nobody))
    for name, holds in limits:
        if not holds(most):
            most, why = _largest(holds, most), name
    return most, why


def _largest(holds: Callable[[float], bool], most: float) -> float:
    """The largest addition from 0 to `most` that holds; 0 where not even the smallest does."""
    low, high = 0.0, most
    while high - low > 1e-4:
        middle = (low + high) / 2.0
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def _stopped(pond: PondWater, why: str) -> Refusal:
    if why == "ammonia":
        assert pond.tan is not None
        found = f"total ammonia is {pond.tan.value:.2g} mg/L as N: at the pH of the next dusk it would be poisonous"
        remedy = "feed nothing, change 10 to 20 % of the water a day, and plan again once a test shows less"
        return Refusal(found, remedy)
    air = aired(pond.water).ph
    found = f"the pH is above {AFTER_CRASH_PH:g} already, and after a crash ammonia is to be tested first"
    if why == "rise":
        found = "even the smallest dose would make the pH in balance with the air leap"
    return Refusal(found, f"run all the air there is, which leads to about pH {air:.1f}; test ammonia, then plan again")


def _too_fast(pond: PondWater, steps: list[Step], target: float, days: int) -> Refusal:
    low = pond.water._replace(alkalinity_meq_l=pond.low)
    first = (target - pond.water.alkalinity_meq_l) / max(days, 1)
    rise = aired(with_bicarbonate(low, first)).ph - aired(low).ph
    why = (
        f"in {days} day{'s' if days != 1 else ''} each dose would be {dkh_from_meq_l(first):.1f} dKH and the pH in "
        f"balance with the air could rise by {rise:.2f} on the first day; safe are at most {DAILY_DKH:g} dKH and "
        f"{DAILY_PH:g} a day"
    )
    return Refusal(why, f"take {len(steps)} days, the first dose {shown(steps[0].amount, MASS, pond.units)}")


def _advice(pond: PondWater, steps: list[Step], why: str, target_dkh: float) -> tuple[str, ...]:
    rows = _doubted(pond) + _doubt(pond)
    if pond.crashed:
        rows.append(
            f"The pond counts as crashed: {pond.crashed}. Air first, all there is; the pH rises by itself then, and "
            "with it the part of the ammonia that is poisonous."
        )
    if why == "untested":
        rows.append("Only this smallest step, since ammonia is not known: test it, log it, and plan again tomorrow.")
    elif why:
        reached = dkh_from_meq_l(steps[-1].kh_meq_l)
        rows.append(
            f"The plan stops at {reached:.1f} of {target_dkh:g} dKH: beyond, the ammonia there is would be poisonous."
        )
    rows += _at_the_least(pond, steps[0])
    total, count = shown(sum(step.amount for step in steps), MASS, pond.units), len(steps)
    rows.append(f"In all {total} of sodium bicarbonate in {count} day{'s' if count != 1 else ''}.")
    return tuple(rows)


def _at_the_least(pond: PondWater, first: Step) -> list[str]:
    """What the first step leads to where KH is as low as it may be."""
    assert pond.kh is not None
    if pond.low > LITTLE_OFF * pond.kh.value:
        return []
    least = pond.water._replace(alkalinity_meq_l=pond.low)
    after = aired(with_bicarbonate(least, first.kh_meq_l - pond.kh.value)).ph
    return [
        f"Where KH is as low as {dkh_from_meq_l(pond.low):.2f} dKH, the first step leads to pH {after:.2f} in balance."
    ]


def _doubted(pond: PondWater) -> list[str]:
    """Where the pH is by a probe that cannot be believed."""
    if pond.ph is None or not pond.ph.doubt:
        return []
    return ["The pH is by a probe that is doubted: measure it by hand, log it, and plan again before the first dose."]


def _doubt(pond: PondWater) -> list[str]:
    """Where KH and pH do not go together."""
    co2 = mg_l_co2_from_umol_l(pond.water.state.co2_umol_l)
    if co2 < MUCH_CO2_MG_L:
        return []
    return [
        f"By KH and pH there are {co2:.0f} mg/L of CO2: the air has stopped, or one of the two is misread. Look first, "
        "and run all the air there is."
    ]


def _cautions(pond: PondWater, steps: list[Step]) -> tuple[str, ...]:
    rows = list(CAUTIONS)
    if pond.crashed:
        rows += AFTER_CRASH
    if pond.tan is None:
        highest = max(steps, key=lambda step: max(step.at_once, step.in_balance, step.dusk_high))
        rows.append(ammonia_caution(highest, pond.warmth, HARMFUL_FROM))
    elif any(later.unionised and earlier.unionised and later.unionised > 1.5 * earlier.unionised
             for earlier, later in pairwise(steps)):  # fmt: skip
        rows.append("The ammonia there is grows more poisonous from step to step: test it daily.")
    return (*rows, *DEFER)
