"""A high pH: shade and air; vinegar only under conditions."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dawnline.dosing.lower_ph import MOST_FALL, MOST_OXYGEN_MG_L, Conditions, lower_ph
from dawnline.dosing.pond_water import PondWater
from dawnline.water.doses import water_of, with_vinegar

from .given import dkh, fact

POND = PondWater(
    litres=fact(14_000), kh=fact(dkh(3.5)), kh_low=dkh(3.0), ph=fact(8.8), dusk_ph=fact(9.2), dawn_ph=fact(7.6),
    celsius=fact(20.0),
)  # fmt: skip
MORNING = Conditions("morning", aerated=True)


def test_shade_and_air_come_first_and_acid_is_not_spoken_of_unasked():
    plan = lower_ph(POND, Conditions())
    assert not plan.refused
    assert plan.advice[0].startswith("Shade")
    assert plan.advice[1].startswith("More air")
    assert "vinegar" not in " ".join((*plan.advice, *plan.cautions)).lower()


def test_vinegar_as_the_last_resort_is_small_and_tells_its_demand_for_oxygen():
    plan = lower_ph(POND, MORNING, substance="white vinegar")
    figures = dict(plan.figures)
    assert 0.0 < figures["oxygen_mg_l"] <= MOST_OXYGEN_MG_L + 1e-6
    weakest = water_of(dkh(3.0), 8.8, 20.0)
    assert weakest.ph - with_vinegar(weakest, figures["vinegar_ml"], 14_000).ph <= MOST_FALL + 1e-3
    words = " ".join((*plan.advice, *plan.cautions))
    assert "mg/L of oxygen" in words
    assert "KH is back then" in words
    assert "morning with all the air running" in words


@pytest.mark.parametrize(
    ("pond", "conditions", "substance", "says"),
    [
        (replace(POND, kh=fact(dkh(2.0)), kh_low=dkh(1.5), dawn_ph=None), MORNING, "vinegar", "no acid below 2"),
        (replace(POND, kh=fact(dkh(2.5)), kh_low=dkh(1.9), dawn_ph=None), MORNING, "vinegar", "as low as 1.9 dKH"),
        (replace(POND, kh=None), MORNING, "vinegar", "KH is not known"),
        (replace(POND, ph=None), MORNING, "vinegar", "present pH is not known"),
        (replace(POND, litres=None), MORNING, "vinegar", "volume is not known"),
        (replace(POND, litres=fact(14e6)), MORNING, "vinegar", "no garden pond"),
        (replace(POND, celsius=fact(28.0)), MORNING, "vinegar", "holds little oxygen"),
        (replace(POND, celsius=None), MORNING, "vinegar", "temperature of the water is not known"),
        (replace(POND, dawn_ph=fact(8.7)), MORNING, "vinegar", "this is no daily high"),
        (replace(POND, ph=fact(8.1), dusk_ph=fact(8.4)), MORNING, "vinegar", "nothing to lower"),
        (replace(POND, ph=fact(7.6), dusk_ph=None), MORNING, "vinegar", "how high the pH goes is not known"),
        (replace(POND, crashed="its pH was 6.1"), MORNING, "vinegar", "counts as crashed: its pH was 6.1"),
        (POND, Conditions("dusk", aerated=True), "vinegar", "not at dusk"),
        (POND, Conditions("night", aerated=True), "vinegar", "not at night"),
        (POND, Conditions(None, aerated=True), "vinegar", "was not said"),
        (POND, Conditions("morning", aerated=False), "vinegar", "air pump does not run"),
        (POND, Conditions("morning"), "vinegar", "whether the air runs was not said"),
        (POND, Conditions("morning", True, days_since_last=2.0), "vinegar", "it is not repeated"),
        (POND, Conditions("morning", True, target_ph=7.4), "vinegar", "never added to reach a pH"),
        (POND, Conditions("morning", True, target_ph=7.4), None, "never added to reach a pH"),
        (POND, MORNING, "hydrochloric acid", "is a strong acid"),
        (POND, MORNING, "Muriatic acid", "is a strong acid"),
        (POND, MORNING, "battery acid", "is a strong acid"),
        (POND, MORNING, "pH minus", "is a strong acid"),
        (POND, MORNING, "soda ash", "raises pH"),
        (POND, MORNING, "malt vinegar", "malt vinegar"),
    ],
)
def test_refused_with_what_would_be_safe(pond, conditions, substance, says):
    plan = lower_ph(pond, conditions, substance=substance)
    assert plan.refused
    assert not plan.steps
    assert says in " | ".join(each.why for each in plan.refusals)
    assert plan.advice[0].startswith("Shade")


def test_essence_of_vinegar_is_refused():
    assert "essence" in lower_ph(POND, MORNING, substance="vinegar", grams_a_litre=250.0).refusals[0].why


def test_the_customary_quarter_cup_is_too_much_in_soft_water():
    """A quarter cup per 500 gallons (common practice): 31 mL a cubic metre."""
    plan = lower_ph(POND, MORNING, substance="vinegar", millilitres=31.25 * 14)
    assert plan.refused
    assert "would lower the pH by" in plan.refusals[0].why
    assert "oxygen" in plan.refusals[0].why


def test_in_hard_water_it_does_nothing_and_that_is_said():
    hard = replace(POND, kh=fact(dkh(8.0)), kh_low=dkh(7.0))
    assert "hardly anything" in " ".join(lower_ph(hard, MORNING, substance="vinegar").advice)


def test_ammonia_comes_first():
    plan = lower_ph(replace(POND, tan=fact(0.5)), Conditions())
    assert plan.advice[0].startswith("First of all: un-ionised ammonia")
    assert not lower_ph(replace(POND, tan=fact(0.001)), Conditions()).advice[0].startswith("First")
