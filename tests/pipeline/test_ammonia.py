"""Ammonia in the fold: a test by hand, judged at the pond's own dusk; stale after three days or a crash."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Effect, Event, Transition, Verdict
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample
from dawnline.water.ammonia import unionised_mg_l

from ..pond import MEASURED as POND

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = round(datetime(2026, 6, 1, tzinfo=ZONE).timestamp() * 1000)
STEP = 10 * MINUTE_MS
DUSK, CELSIUS = 8.6, 22.0


def ph(at: int, dusk: float = DUSK) -> float:
    """7.6 at five in the morning, `dusk` at five in the afternoon."""
    hour = ((at - BEGIN) / HOUR_MS - 5) % 24
    return 7.6 + (dusk - 7.6) * (hour if hour <= 12 else 24 - hour) / 12


def samples(days: float, first: float = 0.0, dusk: float = DUSK, warm: bool = True) -> Iterator[Sample]:
    for at in range(BEGIN + round(first * DAY_MS), BEGIN + round(days * DAY_MS), STEP):
        yield Sample("ph", at, round(ph(at, dusk), 3), at)
        if warm:
            yield Sample("water", at, CELSIUS, at)


def act(days: float, kind: str, **body: Any) -> Act:
    at = BEGIN + round(days * DAY_MS)
    return Act(f"{kind}-{at}", at, kind, body, "ada")


def pipeline() -> Pipeline:
    return Pipeline(shipped(), POND, [("ph", "ph", None, None), ("water", "temperature", None, None)])


def fold(pipe: Pipeline, events: list[Event]) -> list[Transition]:
    told: list[Effect] = [effect for event in sorted(events, key=lambda e: e.at) for effect in pipe.step(event)]
    return [each for each in told if isinstance(each, Transition) and each.alarm in ("ammonia", "ph-high")]


def changes(told: list[Transition]) -> list[tuple[str, str, str]]:
    return [(each.alarm, each.change, each.priority) for each in told]


@pytest.mark.parametrize(
    ("tan", "expected"),
    [(0.1, []), (0.2, ["low"]), (0.45, ["medium"]), (0.9, ["high"])],
)
def test_the_total_is_judged_at_dusk_and_not_at_the_ph_of_the_test(tan, expected):
    told = fold(pipeline(), [*samples(3.5), act(2.3, "hand-test", tan_mg_l=tan, ph=7.7)])
    assert changes(told) == [("ammonia", "raised", priority) for priority in expected]
    for each in told:
        assert each.probe is None
        assert each.value == pytest.approx(unionised_mg_l(tan, DUSK, CELSIUS), rel=0.05)
        assert "at the lowest (7.6" in each.text
        assert each.at - (BEGIN + 2.3 * DAY_MS) <= 2 * MINUTE_MS


def test_a_better_test_ends_it_and_a_water_change_thins_it():
    told = fold(pipeline(), [*samples(4), act(2.3, "hand-test", tan_mg_l=0.2), act(2.5, "hand-test", tan_mg_l=0.05)])
    assert changes(told) == [("ammonia", "raised", "low"), ("ammonia", "returned", "low")]
    told = fold(pipeline(), [*samples(4), act(2.3, "hand-test", tan_mg_l=0.15), act(2.6, "water-change", litres=7000)])
    assert changes(told) == [("ammonia", "raised", "low"), ("ammonia", "returned", "low")]
    assert told[-1].value == pytest.approx(unionised_mg_l(0.075, DUSK, CELSIUS), rel=0.05)
    assert "less the water changed since" in told[-1].text


def test_a_pond_that_grows_greener_takes_the_same_total_over_the_limit():
    told = fold(pipeline(), [*samples(2), *samples(4, 2, dusk=9.0), act(1.4, "hand-test", tan_mg_l=0.12)])
    assert changes(told)[0] == ("ammonia", "raised", "low")
    assert BEGIN + 2.5 * DAY_MS < told[0].at < BEGIN + 2.8 * DAY_MS


def test_it_is_stale_after_three_days_and_says_nothing_new_then():
    told = fold(pipeline(), [*samples(5), *samples(6, 5, dusk=9.4), act(1.4, "hand-test", tan_mg_l=0.05)])
    assert [each for each in changes(told) if each[0] == "ammonia"] == []


def test_an_alarm_that_stands_stands_on_when_its_test_is_stale_and_ends_after_two_weeks():
    told = fold(pipeline(), [*samples(20, warm=False), act(1.4, "hand-test", tan_mg_l=0.9, temperature_c=22.0)])
    assert changes(told) == [("ammonia", "raised", "high"), ("ammonia", "returned", "high")]
    assert BEGIN + 15.3 * DAY_MS < told[-1].at < BEGIN + 15.6 * DAY_MS
    assert "test ammonia again" in told[-1].text


def test_a_crash_makes_the_test_stale():
    crash = [Sample("ph", at, 5.8, at) for at in range(BEGIN + 2 * DAY_MS, BEGIN + round(2.3 * DAY_MS), STEP)]
    pipe = pipeline()
    fold(pipe, [*samples(2), act(1.4, "hand-test", tan_mg_l=0.05)])
    assert pipe.ammonia.fresh(pipe.now)
    fold(pipe, [*crash])
    assert not pipe.ammonia.fresh(pipe.now)
    fold(pipe, [act(2.31, "hand-test", tan_mg_l=3.0), *samples(3, 2.32)])
    assert pipe.ammonia.fresh(pipe.now)


def test_a_high_ph_weighs_more_with_ammonia():
    plain = fold(pipeline(), [*samples(2, dusk=9.3)])
    assert ("ph-high", "raised", "low") in changes(plain)
    told = fold(pipeline(), [*samples(2, dusk=9.3), act(1.2, "hand-test", tan_mg_l=0.1)])
    graver = [each for each in told if each.alarm == "ph-high" and each.at > BEGIN + 1.3 * DAY_MS]
    assert graver[0].priority == "medium"
    assert "un-ionised" in graver[0].text


def test_without_a_thermometer_the_water_is_taken_as_warm_and_said_so():
    told = fold(pipeline(), [*samples(3, warm=False), act(2.3, "hand-test", tan_mg_l=0.3)])
    assert changes(told) == [("ammonia", "raised", "medium")]
    assert "25 degC assumed" in told[0].text


@pytest.mark.parametrize(("tan", "says"), [(2.5, "acute criterion"), (1.2, "chronic criterion"), (0.4, None)])
def test_serious_harm_is_named_and_nothing_is_called_allowed(tan, says):
    told = fold(pipeline(), [*samples(3, dusk=8.9), act(2.3, "hand-test", tan_mg_l=tan)])
    [mine] = [each for each in told if each.alarm == "ammonia"]
    assert ("criterion" in mine.text) == (says is not None)
    assert says is None or says in mine.text
    assert "allowed" not in mine.text


@pytest.mark.parametrize("cut", [2.3001, 2.42, 3.05])
def test_a_fold_in_pieces_equals_a_fold_in_one_go(cut):
    events = sorted([*samples(4, dusk=8.8), act(2.3, "hand-test", tan_mg_l=0.12)], key=lambda e: e.at)
    whole = fold(pipeline(), list(events))
    first, second = pipeline(), pipeline()
    at = BEGIN + cut * DAY_MS
    told = fold(first, [event for event in events if event.at < at])
    second.restore(json.loads(json.dumps(first.save())))
    told += fold(second, [event for event in events if event.at >= at])
    assert told == whole
    assert whole


def test_what_is_known_is_shown_with_whether_it_still_is():
    pipe = pipeline()
    assert pipe.ammonia.body(BEGIN) == {}
    fold(pipe, [*samples(3), act(2.3, "hand-test", tan_mg_l=0.45)])
    body = pipe.ammonia.body(pipe.now)
    assert (body["total_mg_l"], body["fresh"]) == (0.45, True)
    assert body["unionised_mg_l"] == pytest.approx(unionised_mg_l(0.45, DUSK, CELSIUS), rel=0.05)
    assert "0.45 mg/L in all" in body["text"]
    assert not pipe.ammonia.body(pipe.now + 4 * DAY_MS)["fresh"]


def said(pipe: Pipeline, made: Act) -> str:
    return next(each.text for each in pipe.step(made) if isinstance(each, Verdict))


@pytest.mark.parametrize(
    ("tan", "dose", "warned"),
    [
        (0.2, {"what": "sodium bicarbonate", "grams": 400}, True),
        (0.01, {"what": "sodium bicarbonate", "grams": 400}, False),
        (0.2, {"what": "KH plus"}, True),
        (0.05, {"what": "soda ash", "grams": 900}, True),
        (0.2, {"what": "white vinegar", "millilitres": 300}, False),
        (0.2, {"what": "plant food", "grams": 10}, False),
    ],
)
def test_a_dose_is_warned_of_where_the_raised_ph_makes_ammonia_poisonous(tan, dose, warned):
    pipe = pipeline()
    fold(pipe, [*samples(2.4), act(2.3, "hand-test", tan_mg_l=tan, kh_dkh=2)])
    text = said(pipe, act(2.4, "dose", **dose))
    assert ("WARNING: there are" in text) is warned
    if warned:
        assert f"{tan:g} mg/L of ammonia in all as N (your test of 2026-06-03 07:12)" in text
        assert "Feed nothing" in text


def test_a_stale_test_warns_of_nothing_and_a_corrected_dose_is_warned_of():
    pipe = pipeline()
    fold(pipe, [*samples(2.4), act(2.3, "hand-test", tan_mg_l=0.3, kh_dkh=2)])
    made = act(2.4, "dose", what="vinegar", grams=400)
    assert "WARNING" not in said(pipe, made)
    body = {"what": "baking soda", "grams": 400}
    right = {"entry": made.id, "kind": "dose", "at": made.at, "body": body}
    assert "WARNING" in said(pipe, Act("right", made.at + MINUTE_MS, "correct", right))
    fold(pipe, [*samples(6, 2.5)])
    assert "WARNING" not in said(pipe, act(6, "dose", what="baking soda", grams=400))


def test_more_buffer_and_a_water_that_is_acid_now_are_judged_by_the_ph_to_come():
    """Bicarbonate in a pond at pH 6.6 with much CO2: harmless now, poisonous once it is in balance with the air."""
    pipe = pipeline()
    fold(pipe, [*samples(2.4, dusk=7.6), act(2.3, "hand-test", tan_mg_l=0.6, kh_dkh=3)])
    small = said(pipe, act(2.4, "dose", what="baking soda", grams=1))
    assert "up to about 8" in small
