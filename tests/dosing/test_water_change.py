"""A water change: what it does, and how much of one is safe."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.dosing.plan import DAILY_PH
from dawnline.dosing.pond_water import PondWater
from dawnline.dosing.water_change import MOST_SHARE, MOST_WARMING_C, Source, water_change
from dawnline.water.doses import aired, mixed
from dawnline.water.units import dkh_from_meq_l

from .given import dkh, fact

POND = PondWater(litres=fact(14_000), kh=fact(dkh(3.0)), ph=fact(7.6), dusk_ph=fact(8.2), celsius=fact(20.0))
TAP = Source(kh=fact(dkh(6.0)), ph=fact(7.4), celsius=fact(14.0))


def test_kh_temperature_and_ammonia_mix():
    plan = water_change(replace(POND, tan=fact(0.4)), 0.2, TAP)
    [step] = plan.steps
    assert dkh_from_meq_l(step.kh_meq_l) == pytest.approx(3.6)
    assert step.amount == pytest.approx(2800)
    assert dict(plan.figures) == pytest.approx({"temperature_c": 18.8, "tan_mg_l": 0.32})
    assert "0.4 to 0.32" in " ".join(plan.advice)
    assert "chlor" in plan.cautions[0]


@settings(max_examples=60)
@given(st.floats(0.01, 1.0), st.floats(0.2, 15.0), st.floats(4.0, 30.0))
def test_no_change_leaps(share, kh, celsius):
    source = Source(kh=fact(dkh(kh)), ph=fact(7.5), celsius=fact(celsius))
    plan = water_change(POND, share, source)
    after = mixed(POND.water, source.water(POND), share)
    if not plan.refused:
        assert share <= MOST_SHARE
        assert abs(aired(after).ph - aired(POND.water).ph) <= DAILY_PH
        assert abs(after.temperature_c - 20.0) <= MOST_WARMING_C


@pytest.mark.parametrize(
    ("pond", "share", "source", "says", "instead"),
    [
        (POND, 0.8, replace(TAP, celsius=None), "80% at once is more than 30%", "30% (4200 L) at a time"),
        (replace(POND, kh=fact(dkh(0.5))), 0.3, TAP, "would rise by", "at a time"),
        (POND, 0.3, replace(TAP, celsius=fact(6.0)), "4.2 degC colder", "14% (1960 L) at a time"),
        (replace(POND, litres=None), 0.2, TAP, "volume is not known", "measure it"),
        (replace(POND, kh=None), 0.2, TAP, "pond's KH is not known", "test KH"),
        (POND, 0.2, Source(), "KH of the new water is not known", "test it"),
        (POND, 1.5, TAP, "a share of 1.5", "0.15"),
    ],
)
def test_refused_with_what_would_be_safe(pond, share, source, says, instead):
    plan = water_change(pond, share, source)
    assert plan.refused
    assert says in " | ".join(each.why for each in plan.refusals)
    assert instead in " | ".join(each.instead for each in plan.refusals)


def test_hard_water_on_ammonia_is_refused_where_it_poisons():
    sick = replace(POND, kh=fact(dkh(1.0)), tan=fact(0.8))
    plan = water_change(sick, 0.15, replace(TAP, kh=fact(dkh(14.0)), celsius=None))
    assert plan.refused
    assert "un-ionised ammonia would rise" in " ".join(each.why for each in plan.refusals)
