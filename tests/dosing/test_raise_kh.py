"""Plans to raise KH: what they keep to, and what they refuse."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.dosing.plan import DAILY_DKH, DAILY_PH
from dawnline.dosing.pond_water import PondWater
from dawnline.dosing.raise_kh import AFTER_CRASH_PH, raise_kh
from dawnline.water.ammonia import HARMFUL_FROM
from dawnline.water.doses import aired, alkalinity_at_least, with_bicarbonate
from dawnline.water.units import dkh_from_meq_l

from .given import dkh, fact

POND = PondWater(
    litres=fact(14_000), kh=fact(dkh(2.5)), kh_low=dkh(2.0), ph=fact(7.5), dusk_ph=fact(8.3), dawn_ph=fact(7.3),
    celsius=fact(18.0),
)  # fmt: skip
CRASHED = replace(POND, kh=fact(dkh(0.5)), kh_low=0.0, ph=fact(5.8), dawn_ph=fact(5.7), crashed="its pH is 5.80")


def why(plan) -> str:
    return " | ".join(each.why for each in plan.refusals)


def test_grams_and_days_to_a_target():
    plan = raise_kh(POND, 5.0)
    assert not plan.refused
    assert sum(step.amount for step in plan.steps) == pytest.approx(2.5 * 29.961 * 14, rel=1e-3)
    assert [step.day for step in plan.steps] == [1, 2, 3]
    assert dkh_from_meq_l(plan.steps[-1].kh_meq_l) == pytest.approx(5.0)
    assert "1.05 kg" in " ".join(plan.advice)


def test_three_values_of_ph_each_step():
    """PHREEQC, closed and with air of 425 uatm, agrees within 0.05 (tests/water/test_doses_phreeqc.py)."""
    first = raise_kh(POND, 5.0).steps[0]
    assert first.at_once == pytest.approx(with_bicarbonate(POND.water, dkh(1.0)).ph)
    assert first.in_balance == pytest.approx(aired(with_bicarbonate(POND.water, dkh(1.0))).ph)
    assert first.at_once < first.in_balance < first.dusk_low <= first.dusk_high


@settings(max_examples=60)
@given(st.floats(0.05, 6.0), st.floats(0.0, 1.0), st.floats(6.0, 9.0), st.floats(0.0, 32.0), st.floats(0.5, 10.0),
       st.none() | st.floats(0.0, 3.0), st.booleans())  # fmt: skip
def test_no_plan_leaps_or_poisons(kh, blur, ph, celsius, target, tan, crashed):
    pond = replace(
        POND, kh=fact(dkh(kh)), kh_low=dkh(kh * (1.0 - blur)), ph=fact(ph), dawn_ph=fact(ph), dusk_ph=None,
        celsius=fact(celsius), tan=None if tan is None else fact(tan), crashed="so" if crashed else "",
    )  # fmt: skip
    plan, low = raise_kh(pond, target), pond.water._replace(alkalinity_meq_l=pond.low)
    before = pond.kh.value
    for step in plan.steps:
        added = step.kh_meq_l - before
        after = with_bicarbonate(low, added)
        ceiling = AFTER_CRASH_PH if crashed and step.day == 1 else 0.0
        assert aired(after).ph <= max(aired(low).ph + DAILY_PH, ceiling) + 1e-6
        assert 0.0 < dkh_from_meq_l(added) <= DAILY_DKH + 1e-6
        assert step.unionised is None or step.unionised < HARMFUL_FROM
        low, before = after, step.kh_meq_l
    assert plan.refused or before >= dkh(target) - 1e-6 or tan is not None or crashed
    if crashed and tan is None:
        assert len(plan.steps) <= 1


# ------------------------------------------------------------ after a crash


def test_without_a_test_of_ammonia_only_the_smallest_step():
    plan = raise_kh(CRASHED, 4.0)
    assert len(plan.steps) == 1
    [step] = plan.steps
    assert step.at_once <= AFTER_CRASH_PH
    assert "ammonia is not known" in " ".join(plan.advice)
    assert "Stop feeding" in " ".join(plan.cautions)
    assert "the first step leads to pH 6.80 in balance" in " ".join(plan.advice)
    # Where KH is as low as the pH at dawn allows, the water comes to pH 6.8 in balance with the air, and no further.
    lowest = POND.water._replace(alkalinity_meq_l=alkalinity_at_least(5.7, 18.0))
    added = step.kh_meq_l - CRASHED.kh.value
    assert 6.5 < aired(with_bicarbonate(lowest, added)).ph <= AFTER_CRASH_PH + 1e-6


def test_a_crash_that_the_dawns_have_not_seen_yet_counts_by_the_ph_now():
    tonight = replace(CRASHED, dawn_ph=fact(6.9))
    assert tonight.low == pytest.approx(alkalinity_at_least(5.8, 18.0))


def test_a_bare_zero_of_kh_leads_to_where_fish_are_out_of_danger():
    bare = replace(CRASHED, kh=fact(alkalinity_at_least(5.7, 18.0)), kh_low=None, ph=fact(5.7))
    [step] = raise_kh(bare, 4.0).steps
    assert 6.5 <= step.in_balance <= AFTER_CRASH_PH + 1e-6


def test_behind_a_clean_test_it_goes_on_day_by_day():
    plan = raise_kh(replace(CRASHED, tan=fact(0.1)), 4.0)
    assert len(plan.steps) > 4
    assert plan.steps[0].amount < plan.steps[-2].amount
    assert dkh_from_meq_l(plan.steps[-1].kh_meq_l) == pytest.approx(4.0)


def test_with_much_ammonia_it_stops_before_the_ph_poisons():
    plan = raise_kh(replace(CRASHED, tan=fact(0.8)), 4.0)
    assert dkh_from_meq_l(plan.steps[-1].kh_meq_l) < 2.0
    assert "would be poisonous" in " ".join(plan.advice)


# ------------------------------------------------------------ refusals


@pytest.mark.parametrize(
    ("pond", "target", "substance", "says"),
    [
        (replace(POND, litres=fact(14)), 5.0, "bicarbonate", "a volume of 14 L is no garden pond"),
        (replace(POND, litres=fact(14e6)), 5.0, "bicarbonate", "a volume of 14,000,000 L is no garden pond"),
        (replace(POND, litres=None), 5.0, "bicarbonate", "volume is not known"),
        (replace(POND, kh=None), 5.0, "bicarbonate", "present KH is not known"),
        (replace(POND, ph=fact(4.1)), 5.0, "bicarbonate", "at pH 4.1 the water is acid"),
        (POND, 40.0, "bicarbonate", "a target of 40 dKH is out of reason"),
        (POND, -1.0, "bicarbonate", "a target of -1 dKH is out of reason"),
        (POND, 5.0, "soda ash", "soda ash is a strong base"),
        (POND, 5.0, "Washing Soda", "Washing Soda is a strong base"),
        (POND, 5.0, "lye", "lye is a strong base"),
        (POND, 5.0, "caustic soda", "caustic soda is a strong base"),
        (POND, 5.0, "slaked lime", "slaked lime is a strong base"),
        (POND, 5.0, "baking powder", "baking powder holds acid"),
        (POND, 5.0, "muriatic acid", "muriatic acid is an acid"),
        (POND, 5.0, "limestone", "dissolves over weeks"),
        (POND, 5.0, "unicorn dust", "'unicorn dust' is not known here"),
        (replace(POND, tan=fact(1.0)), 5.0, "bicarbonate", "total ammonia is 1 mg/L as N"),
    ],
)
def test_refused_with_what_would_be_safe(pond, target, substance, says):
    plan = raise_kh(pond, target, substance)
    assert plan.refused
    assert not plan.steps
    assert says in why(plan)
    assert all(each.instead for each in plan.refusals)
    assert "fish vet" in " ".join(plan.cautions)


def test_a_plan_whose_aired_ph_leaps_is_refused():
    soft = replace(POND, kh=fact(dkh(0.5)), kh_low=None, ph=fact(7.2), dawn_ph=None)
    plan = raise_kh(soft, 5.0, days=1)
    assert plan.refused
    assert "could rise by 0.9" in why(plan)
    assert "take 5 days" in plan.refusals[0].instead
    assert not raise_kh(soft, 5.0, days=5).refused


def test_what_is_reached_already_needs_nothing():
    plan = raise_kh(POND, 2.0)
    assert (plan.refused, plan.steps) == (False, ())
    assert "nothing to add" in plan.advice[0]


def test_every_value_used_is_named_with_its_origin():
    used = " ".join(raise_kh(replace(POND, celsius=None, dusk_ph=None), 5.0).used)
    assert "25 degC (not known: presumed" in used
    assert "half of the air's CO2 is presumed" in used
    assert "14000 L (given)" in used


def test_what_no_pond_has_is_an_error_and_no_plan():
    with pytest.raises(ValueError, match="temperature: a pond's lies between -2 and 45, found 68 degC"):
        raise_kh(replace(POND, celsius=fact(68.0)), 5.0)


def test_kh_and_ph_that_do_not_go_together_are_said():
    odd = replace(POND, ph=fact(5.8), crashed="its pH is 5.80")
    assert "one of the two is misread" in " ".join(raise_kh(odd, 4.0).advice)


def test_amounts_are_shown_in_the_units_that_are_set():
    american = replace(POND, units="us")
    assert "gal" in american.used()[0]
    assert "degF" in " ".join(american.used())
    assert " lb of sodium bicarbonate" in " ".join(raise_kh(american, 5.0).advice)
