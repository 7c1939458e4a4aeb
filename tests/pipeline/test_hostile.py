"""What a hostile world sends: absurd values, absurd times, long silences, spoiled memories."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.alarms.settings import AlarmSettings
from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Day, Effect, Event, Keep, Tick, Transition, Verdict
from dawnline.outlook.ph_watch import PhWatch
from dawnline.pipeline import Pipeline
from dawnline.reading import Flag, Reason, Sample

from ..pond import POND, fold

ZONE = ZoneInfo("Europe/Berlin")
T0 = round(datetime(2026, 6, 10, 22, tzinfo=ZONE).timestamp() * 1000)


def pipeline(alarms: dict[str, AlarmSettings] | None = None) -> Pipeline:
    return Pipeline(shipped(), POND, [("ph", "ph", None, None)], None, alarms)


def series(start: int, count: int, value: float = 7.2, step: int = MINUTE_MS) -> list[Sample]:
    return [Sample("ph", start + i * step, value, start + i * step) for i in range(count)]


def changes(effects: list[Effect]) -> list[tuple[str, str, int]]:
    return [(e.alarm, e.change, (e.at - T0) // MINUTE_MS) for e in effects if isinstance(e, Transition)]


def act(pipe: Pipeline, kind: str, **body: Any) -> list[Effect]:
    effects = pipe.step(Act(f"{kind}-{pipe.now}", pipe.now + 1, kind, body, "ada"))
    assert all(e.accepted for e in effects if isinstance(e, Verdict)), effects
    return effects


# ------------------------------------------------------------ values


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf"), 1e308, -1e308, -0.0])
def test_an_absurd_value_is_kept_as_a_failure_and_moves_no_figure(value: float) -> None:
    pipe, clean = pipeline(), pipeline()
    fold(pipe, series(T0, 120))
    fold(clean, series(T0, 120))
    kept = [
        e.reading for e in pipe.step(Sample("ph", pipe.now + 30_000, value, pipe.now + 30_000)) if isinstance(e, Keep)
    ]
    assert [(r.flag, r.reason) for r in kept] == [(Flag.FAIL, Reason.OUT_OF_SPAN)]
    fold(pipe, series(T0 + 120 * MINUTE_MS, 30))
    fold(clean, series(T0 + 120 * MINUTE_MS, 30))
    assert pipe.finish() == clean.finish()


def test_two_ph_probes_have_their_own_days_and_alarms() -> None:
    pipe = Pipeline(shipped(), POND, [("inlet", "ph", None, None), ("deep", "ph", None, None)])
    events = [Sample(p, s.at, v, s.at) for s in series(T0, 180) for p, v in (("inlet", 7.4), ("deep", 6.2))]
    effects = fold(pipe, events)
    told = {(e.alarm, e.probe) for e in effects if isinstance(e, Transition)}
    assert told == {("ph-low", "deep"), ("probe-suspect", "deep"), ("probe-suspect", "inlet")}  # they disagree openly
    days = {e.probe: e for e in effects if isinstance(e, Day)}
    assert (days["inlet"].minutes_below, days["deep"].minutes_below) == (0, 120)


def test_the_silence_of_one_of_many_probes_is_its_own() -> None:
    names = [f"p{i}" for i in range(20)]
    pipe = Pipeline(shipped(), POND, [(name, "ph", None, None) for name in names])
    events = [
        Sample(name, s.at, 7.2, s.at)
        for s in series(T0, 60)
        for name in names
        if name != "p7" or s.at < T0 + HOUR_MS / 2
    ]
    assert {(e.alarm, e.probe) for e in fold(pipe, events) if isinstance(e, Transition)} == {("no-data", "p7")}


# ------------------------------------------------------------ times


@pytest.mark.parametrize("at", [-1, -MINUTE_MS, -86_400_000_000, 0, 1, MINUTE_MS])
def test_times_about_the_epoch(at: int) -> None:
    pipe = pipeline()
    later = max(at, 0) + 30 * DAY_MS
    effects = fold(pipe, [*series(at, 3, step=10_000), *series(later, 3)])
    assert sum(isinstance(e, Keep) for e in effects) == 6
    assert pipe.now == later + 2 * MINUTE_MS


def test_a_payload_dated_twenty_years_ahead_moves_no_clock() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 30))
    before = pipe.now
    kept = fold(pipe, [Sample("ph", T0 + 20 * 365 * DAY_MS, 7.2, before + 1)])
    assert [e.reading.reason for e in kept if isinstance(e, Keep)] == [Reason.AHEAD_OF_CLOCK]
    assert pipe.now == before + 1
    after = fold(pipe, series(before + MINUTE_MS, 30))
    assert {e.reading.flag for e in after if isinstance(e, Keep)} == {Flag.GOOD}


def test_a_clock_that_goes_back_loses_no_reading() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 60))
    back = [Sample("ph", T0 + i * 10_000, 7.0, T0 + i * 10_000) for i in range(30)]
    kept = [e.reading for e in fold(pipe, back) if isinstance(e, Keep)]
    assert len(kept) == 30
    assert {r.reason for r in kept} == {Reason.OUT_OF_ORDER}
    assert pipe.now == T0 + 59 * MINUTE_MS


@settings(max_examples=8)
@given(st.integers(1, 8 * 24), st.integers(1, 10 * 1440), st.sampled_from([1, 7, 60]))
def test_a_silence_says_the_same_whether_or_not_ticks_fill_it(shelf_h: int, gap_min: int, every: int) -> None:
    """The live service ticks through a silence; replay leaps over it. A shelf must end at the same minute."""

    def story(ticks: list[Event]) -> list[Effect]:
        pipe = pipeline()
        fold(pipe, [*series(T0, 10), Tick(T0 + HOUR_MS)])
        shelve = Act("s", pipe.now + 1, "shelve", {"id": 1, "for": f"{min(shelf_h, 168)}h"})
        effects = fold(pipe, [shelve, *ticks])
        return effects + fold(pipe, series(T0 + HOUR_MS + gap_min * MINUTE_MS + 1, 30))

    ticks: list[Event] = [Tick(T0 + HOUR_MS + m * MINUTE_MS) for m in range(1, gap_min, every)]
    assert story(ticks) == story([])


def test_a_silence_of_months_gives_each_day_once_and_then_goes_on() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 60))
    effects = fold(pipe, series(T0 + 200 * DAY_MS, 180))
    dates = [e.date for e in effects if isinstance(e, Day)]
    assert len(dates) == len(set(dates)) == 200
    assert (dates[0], dates[-1]) == ("2026-06-10", "2026-12-26")
    assert {(e.coverage, e.mean) for e in effects if isinstance(e, Day) and "2026-06-11" < e.date < "2026-12-26"} == {
        (0, None)
    }
    assert [e.reading.flag for e in effects if isinstance(e, Keep)] == [Flag.GOOD] * 180
    assert ("no-data", "returned") in [(alarm, change) for alarm, change, _ in changes(effects)]


def test_a_fall_from_before_a_gap_is_not_told_after_it() -> None:
    """The fall was about to be told when the data ended; hours later the pH is flat: there is no fall now."""
    pipe = pipeline()
    begin = T0 - T0 % DAY_MS

    def ordinary(at: int) -> float:
        hour = ((at - begin) / HOUR_MS - 3) % 24
        return round(7.0 + 0.6 * (hour if hour <= 12 else 24 - hour) / 12, 3)

    fall = begin + 6 * DAY_MS
    at = begin
    watch = pipe.watches["ph"]
    assert isinstance(watch, PhWatch)
    while watch.drop.since is None:
        value = ordinary(at) - (0.25 * (at - fall) / HOUR_MS if at > fall else 0.0)
        pipe.step(Sample("ph", at, value, at))
        at += MINUTE_MS
        assert at < fall + 3 * HOUR_MS
    effects = fold(pipe, series(at + 6 * HOUR_MS, 90, 6.7))
    assert {alarm for alarm, _, _ in changes(effects)} == {"no-data"}


# ------------------------------------------------------------ maintenance


def test_what_a_probe_said_before_it_was_cleaned_is_not_held_against_it() -> None:
    pipe = pipeline()
    fold(pipe, [*series(T0, 60, step=10_000), *series(T0 + 10 * MINUTE_MS, 30, 13.5, 10_000)])
    act(pipe, "cleaning", probe="ph", **{"for": "20m"})
    effects = fold(pipe, series(pipe.now + 10_000, 300, step=10_000))
    assert [change for _, change, _ in changes(effects)] == ["released", "returned"]
    assert changes(effects)[1][2] - changes(effects)[0][2] == 10  # the off-delay and not a minute more


def test_a_probe_unplugged_while_it_was_calibrated_has_not_stepped() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 1200, step=10_000))
    act(pipe, "calibration", probe="ph", **{"for": "3m"})
    effects = fold(pipe, series(pipe.now + 3 * MINUTE_MS + 10_000, 600, 6.75, 10_000))
    assert changes(effects) == []
    assert {e.reading.flag for e in effects if isinstance(e, Keep)} == {Flag.GOOD}


def test_an_odd_time_during_maintenance_deafens_nothing_later() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 60))
    act(pipe, "cleaning", probe="ph", **{"for": "3m"})
    pipe.step(Sample("ph", T0 + 30 * 365 * DAY_MS, 7.2, pipe.now + 1000))
    watch = pipe.watches["ph"]
    assert isinstance(watch, PhWatch)
    assert watch.drop.settled_at < pipe.now + HOUR_MS


def test_falls_are_counted_from_ten_minutes_after_the_last_reading_of_a_maintenance() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 60))
    act(pipe, "cleaning", probe="ph", **{"for": "30m"})
    fold(pipe, series(T0 + HOUR_MS, 20))
    watch = pipe.watches["ph"]
    assert isinstance(watch, PhWatch)
    assert watch.drop.settled_at == T0 + HOUR_MS + 29 * MINUTE_MS


def test_what_a_broker_kept_is_no_sign_of_life() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 30))
    kept = [Sample("ph", s.at, s.value, s.at, dated=False) for s in series(T0 + 30 * MINUTE_MS, 30)]
    assert [(alarm, change) for alarm, change, _ in changes(fold(pipe, kept))] == [("no-data", "raised")]


def test_a_probe_returned_early_is_judged_at_once() -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 60))
    act(pipe, "out-of-service", probe="ph", **{"for": "48h"})
    fold(pipe, series(pipe.now + MINUTE_MS, 10, 4.5))
    act(pipe, "return", probe="ph")
    effects = fold(pipe, series(pipe.now + MINUTE_MS, 30, 6.2))
    assert [alarm for alarm, _, _ in changes(effects)] == ["ph-low"]


# ------------------------------------------------------------ status


@pytest.mark.parametrize(
    "odd",
    [
        lambda now: Sample("ph", now - DAY_MS, 3.3, now + 1),
        lambda now: Sample("ph", now, 3.3, now + 1),
        lambda now: Sample("ph", now + DAY_MS, 3.3, now + 1),
        lambda now: Sample("ph", now + 1, 3.3, now + 1, dated=False),
    ],
    ids=["late", "doubled", "ahead", "undated"],
)
def test_the_newest_value_shown_is_the_newest(odd: Callable[[int], Sample]) -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 10))
    newest = pipe.watches["ph"].newest
    pipe.step(odd(pipe.now))
    assert pipe.watches["ph"].newest == newest == (T0 + 9 * MINUTE_MS, 7.2, int(Flag.GOOD))


# ------------------------------------------------------------ the keeper's settings


@pytest.mark.parametrize(("alarm", "value"), [("ph-low", 6.2), ("ph-crash", 5.5), ("ph-high", 9.8)])
def test_the_keepers_priority_holds(alarm: str, value: float) -> None:
    """Whatever is learned or escalates by itself, what the keeper set stays."""
    pipe = pipeline({alarm: AlarmSettings(priority="low")})
    effects = fold(pipe, series(T0, 240, value))
    found = {(e.change, e.priority) for e in effects if isinstance(e, Transition) and e.alarm == alarm}
    assert found == {("raised", "low")}


# ------------------------------------------------------------ a spoiled memory


@pytest.mark.parametrize("memory", [[], None, "text", 3, {}, {"version": 1}, {"version": 1, "now": 0}])
def test_what_is_no_memory_is_refused(memory: Any) -> None:
    with pytest.raises(ValueError, match="saved state"):
        pipeline().restore(memory)


def spoiled() -> list[tuple[str, Any]]:
    return [
        ("now", "noon"), ("next_minute", 1.5), ("watches.ph.judge", []), ("watches.ph.judge.order.gaps", "abc"),
        ("watches.ph.rhythm.held", "x"), ("watches.ph.rhythm.day_start", 10**30), ("watches.ph.smooth.points", 7),
        ("watches.ph.drop.profile", []), ("watches.ph.drop.settled_at", {}), ("watches.ph.out_until", []),
        ("desk.memory.0.2.state_name", "ASLEEP"), ("desk.memory.0.2.priority", "urgent"), ("desk.memory", 3),
        ("desk.next_id", "one"), ("reach.ways", []),
    ]  # fmt: skip


@pytest.mark.parametrize(("where", "junk"), spoiled())
def test_a_spoiled_memory_is_refused(where: str, junk: Any) -> None:
    pipe = pipeline()
    fold(pipe, series(T0, 120, 6.2))
    saved = json.loads(json.dumps(pipe.save()))
    *path, last = where.split(".")
    place: Any = saved
    for part in path:
        place = place[int(part) if isinstance(place, list) else part]
    assert last in place
    place[last] = junk
    with pytest.raises(ValueError, match="saved state"):
        pipeline().restore(saved)
