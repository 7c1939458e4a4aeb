"""A high pH in the afternoon: what brings it down, and under which conditions vinegar may be thought of.

Algae take up carbon dioxide in the sun, and the pH rises until dusk; it falls by itself in the night. Shade and air
bring CO2 back. Acid takes the buffer that holds the pH at night. Vinegar is acetic acid: bacteria eat it, use about its
own mass in oxygen, and its effect is gone within days; so it can take the top off one daily high, and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from dawnline.dosing.plan import DEFER, Plan, Refusal, follow, refuse, volume_refusal
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.dosing.substances import lowering
from dawnline.typed.measures import VOLUME
from dawnline.typed.shown import shown
from dawnline.water.ammonia import HARMFUL_FROM, unionised_mg_l
from dawnline.water.doses import (
    VINEGAR_G_L,
    acetic_mg_l,
    oxygen_for_acetic,
    water_of,
    with_vinegar,
)
from dawnline.water.units import dkh_from_meq_l, meq_l_from_dkh

KIND: Final = "lower-ph"
# Common practice, no source; the margins are ours.
LEAST_DKH: Final = 2.0
HEAT_C: Final = 25.0
MOST_FALL: Final = 0.2  # pH at once
WORTH_PH: Final = 0.1
MOST_OXYGEN_MG_L: Final = 0.5
COMFORT_HIGH: Final = 8.5
CONSTANT_DAWN: Final = 8.3
SINCE_LAST_DAYS: Final = 7
ADVICE: Final = (
    "Shade: a sail, a net, floating plants over a third of the pond. Less light is less rise, from the first day on.",
    "More air, by day and by night: it brings CO2 in while the pH is above balance with the air, and oxygen at night.",
    "Thin out string algae in small portions over days; feed less, since they live on it.",
    "Test KH: soft water swings most. Raising KH to 4 to 6 dKH over days narrows the swing (`dose raise-kh`).",
    "A high pH in the afternoon falls by itself after sunset. Test ammonia: at a high pH it is what harms fish.",
)
WITH_VINEGAR: Final = (
    "Plain white vinegar of 5 % only, diluted in a bucket of pond water and poured slowly where the water moves, in "
    "the morning with all the air running; once, not again to reach a pH. Watch the fish for an hour.",
    "Gloves and glasses; never together with bleach or any other chemical.",
)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What else vinegar depends on. None is "not said"."""

    part_of_day: str | None = None  # morning, day, dusk, night
    aerated: bool | None = None
    days_since_last: float | None = None  # since vinegar or another acid was last logged
    target_ph: float | None = None


def lower_ph(
    pond: PondWater,
    conditions: Conditions,
    *,
    substance: str | None = None,
    millilitres: float | None = None,
    grams_a_litre: float = VINEGAR_G_L,
) -> Plan:
    """What to do about a high pH; with a `substance` whether and how much of it, or whether these `millilitres`.

    Raises ValueError where a value of the pond's lies outside what the chemistry holds for.
    """
    pond.checked()
    if substance is None and millilitres is None and conditions.target_ph is None:
        return Plan(KIND, pond.used(), advice=(*_poisoned(pond), *ADVICE), cautions=DEFER)
    found = [
        each
        for each in (
            lowering(substance or "vinegar"),
            _strength(grams_a_litre),
            _target(conditions),
            volume_refusal(pond),
            *_of_the_water(pond),
            *_of_the_hour(conditions),
        )
        if each is not None
    ]
    if found or pond.kh is None or pond.litres is None:
        return _no(pond, *found)
    litres = pond.litres.value
    most = _most(pond, litres, grams_a_litre)
    amount = most if millilitres is None else millilitres
    after = with_vinegar(pond.water, amount, litres, grams_a_litre)
    step = follow(pond, after, 1, amount)
    oxygen = oxygen_for_acetic(acetic_mg_l(amount, litres, grams_a_litre))
    if amount > most * 1.001:
        fall = pond.water.ph - step.at_once
        return _no(pond, _too_much(pond, amount, most, fall, oxygen))
    most_of = "At most " if millilitres is None else ""
    said = [
        f"{most_of}{_shown(amount, pond)} of white vinegar, once: pH {pond.water.ph:.2f} to {step.at_once:.2f} at "
        f"once, {step.in_balance:.2f} once in balance with the air.",
        f"Bacteria eat it and use {oxygen:.2f} mg/L of oxygen within a day or two; KH is back then, and so is the pH.",
    ]
    if pond.water.ph - step.at_once < WORTH_PH:
        said.append("That takes hardly anything off the pH: leave it be.")
    figures = (("vinegar_ml", amount), ("oxygen_mg_l", oxygen))
    return Plan(KIND, pond.used(), (step,), (), (*_poisoned(pond), *said, *ADVICE), (*WITH_VINEGAR, *DEFER), figures)


def _poisoned(pond: PondWater) -> tuple[str, ...]:
    """What comes first where there is ammonia that this pH makes poisonous."""
    highs = [fact.value for fact in (pond.ph, pond.dusk_ph) if fact is not None]
    if pond.tan is None or not highs:
        return ()
    poison = unionised_mg_l(pond.tan.value, max(highs), pond.warmth)
    if poison < HARMFUL_FROM:
        return ()
    first = "feed nothing, and change 10 to 20 % of the water for water of no higher pH; again tomorrow"
    return (f"First of all: un-ionised ammonia is {poison:.3f} mg/L as N at pH {max(highs):.1f}: {first}.",)


def _no(pond: PondWater, *refusals: Refusal) -> Plan:
    plan = refuse(KIND, pond, *refusals)
    return Plan(KIND, plan.used, (), plan.refusals, (*_poisoned(pond), *ADVICE), plan.cautions)


def _most(pond: PondWater, litres: float, grams_a_litre: float) -> float:
    """The largest amount [mL]: neither pH nor oxygen moves too far, at the least alkalinity there may be."""
    weakest = water_of(pond.tested_low, None if pond.ph is None else pond.ph.value, pond.warmth)
    high = MOST_OXYGEN_MG_L / oxygen_for_acetic(acetic_mg_l(1.0, litres, grams_a_litre))
    low, start = 0.0, weakest.ph
    if start - with_vinegar(weakest, high, litres, grams_a_litre).ph <= MOST_FALL:
        return high
    while high - low > 1e-3 * high:
        middle = (low + high) / 2.0
        falls = start - with_vinegar(weakest, middle, litres, grams_a_litre).ph
        low, high = (middle, high) if falls <= MOST_FALL else (low, middle)
    return low


def _strength(grams_a_litre: float) -> Refusal | None:
    if 30.0 <= grams_a_litre <= 60.0:
        return None
    why = f"vinegar of {grams_a_litre / 10.0:g} % is no table vinegar; essence of 25 % burns eyes and gills"
    return Refusal(why, "use white vinegar of 5 %")


def _target(conditions: Conditions) -> Refusal | None:
    if conditions.target_ph is None:
        return None
    why = "acid is never added to reach a pH: each addition takes buffer, and the next night falls the deeper"
    return Refusal(why, "shade and air; raise KH over days")


def _of_the_water(pond: PondWater) -> list[Refusal]:
    found = []
    if pond.crashed:
        why = f"the pond counts as crashed: {pond.crashed}; acid takes the rest of the buffer"
        found.append(Refusal(why, "run all the air there is, test KH and ammonia, and plan with `dose raise-kh`"))
    if pond.kh is None:
        found.append(Refusal("KH is not known, and where it is low acid crashes the pond", "test KH first"))
    elif pond.tested_low < meq_l_from_dkh(LEAST_DKH):
        why = f"KH may be as low as {dkh_from_meq_l(pond.tested_low):.1f} dKH; no acid below {LEAST_DKH:g}"
        found.append(Refusal(why, "raise KH over days (`dose raise-kh`): that is what steadies the pH"))
    if pond.ph is None:
        found.append(Refusal("the present pH is not known", "measure it, or give --ph"))
    elif pond.ph.doubt:
        found.append(Refusal(f"the pH is by a probe that is doubted: {pond.ph.doubt}", "measure it by hand and log it"))
    elif max(pond.ph.value, 0.0 if pond.dusk_ph is None else pond.dusk_ph.value) <= COMFORT_HIGH:
        found.append(_not_high(pond.ph.value, pond.dusk_ph))
    if pond.dawn_ph is not None and pond.dawn_ph.value > CONSTANT_DAWN:
        why = f"at dawn the pH is {pond.dawn_ph.value:.2f}: this is no daily high, vinegar does nothing for it"
        found.append(Refusal(why, "look for lime: new concrete, mortar, limestone; test the tap water"))
    if pond.celsius is None:
        found.append(Refusal("the temperature of the water is not known", "measure it, or give --temperature"))
    elif pond.celsius.value > HEAT_C:
        why = f"at {pond.celsius.value:.0f} degC water holds little oxygen, and vinegar uses it up"
        found.append(Refusal(why, "shade, air, and a part water change with cooler water"))
    return found


def _not_high(now: float, dusk: Fact | None) -> Refusal:
    """Nothing is known to be high: it does not become so, or nobody has looked when it is."""
    if dusk is not None:
        return Refusal(f"the pH does not pass {COMFORT_HIGH:g}: there is nothing to lower", "leave it alone")
    why = f"the pH is {now:.2f}, and how high the pH goes is not known: there is nothing to lower yet"
    return Refusal(why, "measure it late in the afternoon, or give --dusk-ph")


def _of_the_hour(conditions: Conditions) -> list[Refusal]:
    found = []
    if conditions.part_of_day != "morning":
        hour = conditions.part_of_day or "an hour that was not said"
        why = f"acid goes in in the morning only, not at {hour}: in the night the pH falls by itself"
        found.append(Refusal(why, "plan again between sunrise and ten"))
    if not conditions.aerated:
        why = "the air pump does not run" if conditions.aerated is False else "whether the air runs was not said"
        found.append(Refusal(why, "run all the air there is, and say --air on"))
    if conditions.days_since_last is not None and conditions.days_since_last < SINCE_LAST_DAYS:
        why = f"acid was added {conditions.days_since_last:.0f} days ago: it is not repeated"
        found.append(Refusal(why, f"wait until {SINCE_LAST_DAYS} days have passed; shade and air meanwhile"))
    return found


def _too_much(pond: PondWater, amount: float, most: float, fall: float, oxygen: float) -> Refusal:
    why = f"{_shown(amount, pond)} would lower the pH by {fall:.2f} at once and use {oxygen:.1f} mg/L of oxygen"
    return Refusal(why, f"{_shown(most, pond)} at most, once; better none")


def _shown(millilitres: float, pond: PondWater) -> str:
    return shown(millilitres / 1000.0, VOLUME, pond.units)
