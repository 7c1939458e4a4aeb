"""What can be judged while the clock is not set, and what waits."""

from __future__ import annotations

import math

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Tick, Transition
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.unset import STEADY_MS, Unset
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import POND

T0 = 1_781_035_200_000


def a_pond(days: int = 5) -> Pipeline:
    """A pond of some calm days, a reading each ten minutes."""
    pipeline = Pipeline(shipped(), POND, [("ph", "ph", None, None)])
    for number in range(days * 144):
        at = T0 + number * 10 * MINUTE_MS
        pipeline.step(Sample("ph", at, 7.4 + 0.3 * math.sin(number * math.tau / 144) + 0.005 * (number % 3), at))
    return pipeline


def conditions(pipeline: Pipeline) -> dict[str, Condition]:
    watch = pipeline.watches["ph"]
    return dict(watch.conditions(pipeline.now, pipeline.desk.deadbands))


@pytest.mark.parametrize(("wander", "believed"), [(0, True), (STEADY_MS, True), (STEADY_MS + 1, False)])
def test_a_sender_whose_time_advances_with_ours_is_live(wander: int, *, believed: bool) -> None:
    unset, months = Unset(), 100 * DAY_MS
    first = unset.judged(Sample("ph", T0 + months, 7.1, T0))
    second = unset.judged(Sample("ph", T0 + months + MINUTE_MS + wander, 7.2, T0 + MINUTE_MS))
    assert (first.at, first.dated) == (T0, False)
    assert (second.at, second.received_at, second.value) == (T0 + MINUTE_MS, T0 + MINUTE_MS, 7.2)
    assert second.dated is believed


def test_each_probe_has_a_sender_of_its_own() -> None:
    unset = Unset()
    for at in (T0, T0 + MINUTE_MS):
        samples = [unset.judged(Sample(name, at + lag, 7.0, at)) for name, lag in (("a", DAY_MS), ("b", -DAY_MS))]
    assert [sample.dated for sample in samples] == [True, True]


def test_a_sample_without_a_senders_time_is_what_it_is() -> None:
    sample = Sample("ph", T0, 7.0, T0, dated=False)
    assert Unset().judged(sample) is sample


def test_only_an_unset_clock_leaves_its_mark_on_a_finding() -> None:
    unset, finding = Unset(), Finding("ph-low", "ph", T0, Condition.MET, 6.3, "pH 6.30")
    assert unset.marked(finding) is finding
    unset.begin(T0, [], ())
    assert unset.marked(finding).evidence == "pH 6.30; the clock is not set, times are provisional"


def test_the_alarm_begins_low_and_is_medium_after_a_day() -> None:
    pipeline = Pipeline(shipped(), POND, [("ph", "ph", None, None)])
    pipeline.begin_unset(T0)
    effects = [effect for hour in range(1, 27) for effect in pipeline.step(Tick(T0 + hour * HOUR_MS))]
    changes = [(t.change, t.priority) for t in effects if isinstance(t, Transition) and t.alarm == "clock-unset"]
    assert changes == [("raised", "low"), ("escalated", "medium")]


def test_what_goes_by_the_hour_of_the_sun_waits() -> None:
    pipeline = a_pond()
    watch = pipeline.watches["ph"]
    assert isinstance(watch, PhWatch)
    assert watch.drop.profile
    assert conditions(pipeline)["night-slide"] is not Condition.UNKNOWN
    lows = list(watch.rhythm.lows)
    begun = pipeline.now + 1
    pipeline.begin_unset(begun)
    for minute in range(1, 2 * 1440):
        at = begun + minute * MINUTE_MS
        pipeline.step(Sample("ph", at, 7.4 + 0.3 * math.sin(minute * math.tau / 1440) + 0.005 * (minute % 3), at))
    found = conditions(pipeline)
    assert found["night-slide"] is Condition.UNKNOWN
    assert found["ph-low"] is Condition.CLEAR
    assert found["no-data"] is Condition.CLEAR
    assert watch.rhythm.lows == lows
    assert watch.slide.body() is None


def test_a_level_from_before_is_no_spike_and_no_fall_now() -> None:
    pipeline = a_pond(1)
    begun = pipeline.now + 1
    pipeline.begin_unset(begun)
    effects = []
    for minute in range(1, 90):
        at = begun + minute * MINUTE_MS
        effects += pipeline.step(Sample("ph", at, 6.7 + 0.004 * (minute % 5), at))
    assert [t.alarm for t in effects if isinstance(t, Transition)] == ["clock-unset"]


def test_acts_are_taken_as_ever() -> None:
    pipeline = a_pond(1)
    pipeline.begin_unset(pipeline.now + 1)
    pipeline.step(Act("a", pipeline.now + MINUTE_MS, "out-of-service", {"probe": "ph", "for": "1h"}))
    assert pipeline.watches["ph"].out_until == pipeline.now + HOUR_MS
