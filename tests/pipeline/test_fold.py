"""The fold: in pieces as in one go, time as data, acts, gaps, and what it owes the interface contract."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Day, Effect, Event, Keep, Notice, Problem, Tick, Transition, Verdict
from dawnline.pipeline import Pipeline
from dawnline.reading import Flag, Reason, Sample

from ..pond import POND, fold

ZONE = ZoneInfo("Europe/Berlin")
T0 = round(datetime(2026, 6, 10, 22, tzinfo=ZONE).timestamp() * 1000)


def pipeline() -> Pipeline:
    return Pipeline(shipped(), POND, [("ph", "ph", None, None), ("water", "temperature", None, None)])


def sample(at: int, value: float = 7.2, probe: str = "ph") -> Sample:
    return Sample(probe, at, value, at)


def alarms(effects: list[Effect]) -> list[tuple[str, str]]:
    return [(e.alarm, e.change) for e in effects if isinstance(e, Transition)]


# ------------------------------------------------------------ in pieces


@st.composite
def stories(draw: st.DrawFn) -> list[Event]:
    """Readings with gaps, spikes, repeats, late comers and acts."""
    events: list[Event] = []
    at, level = T0, draw(st.floats(6.0, 8.0))
    for number in range(draw(st.integers(1, 40))):
        at += draw(st.sampled_from([1, 10_000, 10_000, 60_000, 300_000, 2 * HOUR_MS]))
        what = draw(st.integers(0, 12))
        level += draw(st.floats(-0.2, 0.15))
        if what == 0:
            events.append(Tick(at))
        elif what == 1:
            events.append(Act(f"a{number}", at, *draw(st.sampled_from(ACTS))))
        elif what == 2:
            events.append(Sample("ph", at - 7_000, round(level, 2), at))
        elif what == 3:
            events.append(sample(at, draw(st.sampled_from([0.0, 14.0, 3.0, 99.0]))))
        elif what == 4:
            events += [sample(at, round(level, 2))] * 2
        elif what == 5:
            events.append(Sample("ph", at, 7.0, at, dated=False))
        elif what == 6:
            events.append(sample(at, 18.0, "water"))
        else:
            events += [sample(at + 10_000 * i, round(level, 2)) for i in range(draw(st.integers(1, 80)))]
            at = events[-1].at
    return events


ACTS: list[tuple[str, dict[str, Any], str]] = [
    ("acknowledge", {"id": 1}, "ada"),
    ("shelve", {"id": 1, "for": "1h"}, "ada"),
    ("unshelve", {"id": 1}, "ada"),
    ("cleaning", {"probe": "ph", "for": "20m"}, "ada"),
    ("out-of-service", {"probe": "ph", "for": "2h"}, "ada"),
    ("return", {"probe": "ph"}, "ada"),
    ("water-change", {"share": 0.2}, "ada"),
    ("nonsense", {}, "ada"),
    ("calibration", {"probe": "ph", "for": "5m", "outcome": True}, "ada"),
    ("calibrated", {"probe": "ph", "points": [[7.0, 7.1, 20.0]]}, "ada"),
    ("buffer-check", {"probe": "ph", "buffer_ph": 7.0, "measured": 7.3}, "ada"),
    ("hand-test", {"ph": 6.9}, "ada"),
]


@settings(max_examples=25)
@given(stories(), st.data())
def test_in_pieces_as_in_one_go(events: list[Event], data: st.DataObject) -> None:
    whole = pipeline()
    expected = fold(whole, events)
    found: list[Effect] = []
    pipe = pipeline()
    for event in events:
        if data.draw(st.booleans()):
            saved = json.loads(json.dumps(pipe.save()))
            pipe = pipeline()
            pipe.restore(saved)
        found += pipe.step(event)
    assert [e for e in found if not isinstance(e, Problem)] == [e for e in expected if not isinstance(e, Problem)]
    assert pipe.save() == whole.save()


@settings(max_examples=15)
@given(stories(), st.integers(1, 59))
def test_ticks_between_change_nothing(events: list[Event], seconds: int) -> None:
    plain, ticked = pipeline(), pipeline()
    expected = fold(plain, events)
    found: list[Effect] = []
    for event, after in zip(events, [*events[1:], None], strict=True):
        found += ticked.step(event)
        at = getattr(event, "received_at", event.at) + seconds * 1000
        if after is not None and at < getattr(after, "received_at", after.at):
            found += ticked.step(Tick(at))
    assert found == expected


def test_a_memory_of_another_version_or_shape_is_refused() -> None:
    saved = pipeline().save()
    for broken in (
        {**saved, "version": 99},
        {**saved, "watches": {"ph": {}}},
        {**saved, "desk": 3},
        {"version": 1},
    ):
        with pytest.raises(ValueError, match="saved state"):
            pipeline().restore(broken)


def test_a_new_probe_begins_anew_and_a_gone_one_is_forgotten() -> None:
    old = pipeline()
    fold(old, [sample(T0 + i * 10_000) for i in range(100)])
    new = Pipeline(shipped(), POND, [("ph", "ph", None, None), ("deep", "ph", None, None)])
    new.restore(json.loads(json.dumps(old.save())))
    assert new.watches["ph"].save() == old.watches["ph"].save()
    assert new.watches["deep"].newest is None


# ------------------------------------------------------------ the contract


def day_of(effects: list[Effect]) -> list[str]:
    return [e.date for e in effects if isinstance(e, Day)]


def test_one_day_a_date_and_the_running_one_partial() -> None:
    pipe = pipeline()
    effects = fold(pipe, [sample(T0 + i * MINUTE_MS) for i in range(3 * 1440)])
    assert day_of(effects) == ["2026-06-10", "2026-06-11", "2026-06-12"]
    last = pipe.finish()
    assert [(e.date, e.partial) for e in last if isinstance(e, Day)] == [("2026-06-13", True)]


@pytest.mark.parametrize(("on", "hours"), [((2026, 3, 29), 23), ((2026, 10, 25), 25)])
def test_both_changes_of_the_clock(on: tuple[int, int, int], hours: int) -> None:
    start = round(datetime(*on, tzinfo=ZONE).timestamp() * 1000)
    effects = fold(pipeline(), [sample(start + i * MINUTE_MS, 6.0 + 0.02 * (i % 2)) for i in range(hours * 60 + 1)])
    days = [e for e in effects if isinstance(e, Day)]
    assert len(days) == 1
    assert days[0].minutes_below == hours * 60
    assert days[0].coverage == 1.0


def test_a_late_row_reopens_no_closed_day() -> None:
    pipe = pipeline()
    fold(pipe, [sample(T0 + i * MINUTE_MS) for i in range(180)])
    effects = pipe.step(Sample("ph", T0 - HOUR_MS, 5.0, T0 + 180 * MINUTE_MS))
    kept = [e.reading for e in effects if isinstance(e, Keep)]
    assert [(r.flag, r.reason) for r in kept] == [(Flag.SUSPECT, Reason.OUT_OF_ORDER)]
    assert not [e for e in effects if isinstance(e, Day)]


def test_readings_older_than_a_quarter_hour_judge_no_alarm() -> None:
    pipe = pipeline()
    fold(pipe, [sample(T0 + i * MINUTE_MS) for i in range(60)])
    now = T0 + 8 * HOUR_MS
    backfill = [Sample("ph", T0 + 61 * MINUTE_MS + i * MINUTE_MS, 5.0, now + i) for i in range(120)]
    effects = fold(pipe, [*backfill, Tick(now + HOUR_MS)])
    assert sum(isinstance(e, Keep) for e in effects) == 120
    assert not [a for a in alarms(effects) if a[0].startswith("ph-")]


def test_an_unknown_probe_is_said_once() -> None:
    effects = fold(pipeline(), [sample(T0 + i, probe="stranger") for i in range(5)])
    assert [type(e) for e in effects] == [Problem]


def test_every_effect_of_an_alarm_comes_with_its_notice() -> None:
    effects = fold(pipeline(), [sample(T0 + i * MINUTE_MS, 6.2) for i in range(60)])
    told = [(e.alarm, e.change) for e in effects if isinstance(e, Notice)]
    assert told == alarms(effects) == [("ph-low", "raised")]


# ------------------------------------------------------------ time


def test_a_leap_of_half_a_century_is_quick_and_whole() -> None:
    pipe = pipeline()
    fold(pipe, [sample(1_000_000 + i * 10_000) for i in range(100)])
    effects = pipe.step(sample(T0))
    assert len([e for e in effects if isinstance(e, Day)]) > 20_000
    assert ("no-data", "raised") in alarms(effects)
    assert pipe.now == T0
    assert pipe.next_minute == T0 + MINUTE_MS


def test_a_gap_of_a_week_gives_every_day_once() -> None:
    pipe = pipeline()
    fold(pipe, [sample(T0 + i * MINUTE_MS) for i in range(60)])
    effects = fold(pipe, [sample(T0 + 7 * DAY_MS + i * MINUTE_MS) for i in range(60)])
    assert day_of(effects) == [f"2026-06-{d}" for d in range(10, 17)]


def test_acts_get_verdicts_and_change_what_they_say() -> None:
    pipe = pipeline()
    fold(pipe, [sample(T0 + i * MINUTE_MS, 6.2) for i in range(30)])

    def act(kind: str, **body: Any) -> Verdict:
        effects = pipe.step(Act(kind, pipe.now + 1, kind, body, "ada"))
        return next(e for e in effects if isinstance(e, Verdict))

    assert act("acknowledge", id=1).accepted
    refused = act("acknowledge", id=1)
    assert not refused.accepted
    assert "acknowledged" in refused.text
    assert not act("acknowledge", id=77).accepted
    assert not act("cleaning", probe="hp").accepted
    assert act("hand-test", kh_dkh=3).accepted
    assert not act("hand-test", kh=3).accepted


def test_readings_during_maintenance_are_kept_and_count_for_nothing() -> None:
    pipe = pipeline()
    fold(pipe, [sample(T0 + i * MINUTE_MS) for i in range(30)])
    at = pipe.now + 1
    pipe.step(Act("c", at, "cleaning", {"probe": "ph", "for": "30m"}))
    effects = fold(pipe, [sample(at + i * 10_000, 4.2) for i in range(1, 150)])
    reasons = {e.reading.reason for e in effects if isinstance(e, Keep)}
    assert reasons == {Reason.MAINTENANCE}
    assert alarms(effects) == []


def test_a_cleaning_noted_when_it_is_over_takes_nothing_out_of_service() -> None:
    pipe = pipeline()
    fold(pipe, [sample(T0 + i * MINUTE_MS) for i in range(90)])
    at = pipe.now + 1
    for name, ago, out in (("early", 60, False), ("late", 20, True)):
        body = {"probe": "ph", "for": "30m", "when": at - ago * MINUTE_MS}
        said = next(e for e in pipe.step(Act(name, at, "cleaning", body)) if isinstance(e, Verdict))
        assert said.accepted
        assert ("suppressed meanwhile" in said.text) is out
        assert pipe.watches["ph"].out_until == (at + 10 * MINUTE_MS if out else 0)


def test_a_check_that_crashes_costs_its_verdict_not_the_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    pipe = pipeline()

    def crash(_: Sample) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(pipe.watches["ph"].judge, "push", crash)
    kept = [e.reading for e in pipe.step(sample(T0)) if isinstance(e, Keep)]
    assert [(r.value, r.flag, r.reason) for r in kept] == [(7.2, Flag.NOT_EVALUATED, Reason.CHECK_FAILED)]
