"""A probe calibrated at its own transmitter, by its buttons, as the logbook says it afterwards."""

from __future__ import annotations

import json
from random import Random
from typing import Any

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, iso
from dawnline.event import Act, Effect, Event, Transition, Verdict
from dawnline.outlook.ph_watch import PhWatch
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import POND, fold
from .test_electrode import BEGIN, ph_at

T = BEGIN + 5 * DAY_MS + 14 * HOUR_MS  # when it was done
SAID = T + HOUR_MS  # when it was written down


def pipe_of(*names: str) -> Pipeline:
    return Pipeline(shipped(), POND, [(name, "ph", None, None) for name in names or ("ph",)])


def samples(start: int, end: int, *, off: float, since: float = 0.0, probe: str = "ph") -> list[Event]:
    """It shows `off` too much until T and `since` from then on."""
    chance, found = Random(3), list[Event]()
    for at in range(start, end, MINUTE_MS):
        more = off if at < T else since
        found.append(Sample(probe, at, round(ph_at(at) + more + chance.gauss(0, 0.004), 3), at))
    return found


def act(at: int, kind: str, name: str = "", **body: Any) -> Act:
    return Act(name or f"{kind}-{at}", at, kind, body, "ada")


def done(name: str = "a", at: int = SAID, **body: Any) -> Act:
    return act(at, "adjusted", name, **({"probe": "ph", "when": iso(T)} | body))


def back(name: str, at: int) -> Act:
    return Act("back", SAID + 2, "withdraw", {"entry": name, "at": at}, "ada")


def run(pipe: Pipeline, *events: Event) -> list[Effect]:
    return fold(pipe, sorted(events, key=lambda e: e.received_at if isinstance(e, Sample) else e.at))


def ph(pipe: Pipeline, name: str = "ph") -> PhWatch:
    watch = pipe.watches[name]
    assert isinstance(watch, PhWatch)
    return watch


def doubts(effects: list[Effect]) -> list[str]:
    return [e.change for e in effects if isinstance(e, Transition) and e.alarm == "probe-suspect"]


def verdict(effects: list[Effect]) -> Verdict:
    return next(e for e in effects if isinstance(e, Verdict))


def entered(pipe: Pipeline) -> list[tuple[int, str]]:
    [line] = pipe.buffer.of("ph")
    return [(row[0], row[1]) for row in line.diary.entries if row[1] == "calibrated"]


def test_the_leap_that_it_made_is_not_held_against_the_probe() -> None:
    events = samples(BEGIN, SAID + 3 * HOUR_MS, off=0.6)
    assert doubts(run(pipe_of(), *events)) == ["raised"]
    made = pipe_of()
    assert doubts(run(made, *events, done())) == ["raised", "returned"]
    assert not ph(made).judge.step.shifted  # what it shows is the water again, not less the leap
    assert ph(made).current == pytest.approx(ph_at(made.now), abs=0.05)


def test_tests_from_before_say_nothing_any_more_and_those_since_go_on() -> None:
    def told(since: float, *acts: Act) -> tuple[str | None, list[str]]:
        made = pipe_of()
        run(made, *samples(BEGIN, SAID + 2 * HOUR_MS, off=0.6, since=since), *acts)
        return made.desk.doubt("ph"), ph(made).electrode.reasons

    before = [act(T - hours * HOUR_MS, "hand-test", ph=round(ph_at(T - hours * HOUR_MS), 2)) for hours in (30, 2)]
    later = act(T + 30 * MINUTE_MS, "hand-test", ph=round(ph_at(T + 30 * MINUTE_MS), 2))
    doubt, due = told(0.6, *before)  # nobody did anything
    assert (doubt or "").startswith("drifting from the hand test")
    assert "tests by hand differ" in due[0]
    assert told(0.0, *before, done()) == (None, [])
    doubt, _ = told(0.9, *before, later, done())  # it was done badly
    assert (doubt or "").startswith("drifting from the hand test: it shows 0.9")


def test_what_is_said_of_weeks_ago_forgets_nothing_of_now() -> None:
    made = pipe_of()
    tests = [act(T - hours * HOUR_MS, "hand-test", ph=round(ph_at(T - hours * HOUR_MS), 2)) for hours in (30, 2)]
    run(made, *samples(BEGIN, T, off=0.6), *tests, done(at=T - HOUR_MS, when=iso(BEGIN)))
    assert made.desk.doubt("ph") is not None


def test_a_twin_is_not_held_against_it_for_what_it_was_before() -> None:
    events = [*samples(BEGIN, SAID + 5 * HOUR_MS, off=-0.45),
              *samples(BEGIN, SAID + 5 * HOUR_MS, off=0.0, probe="deep")]  # fmt: skip
    for acts, doubted in (([], True), ([done()], False)):
        made = pipe_of("ph", "deep")
        effects = run(made, *events, *acts)
        assert any(made.desk.doubt(name) for name in ("ph", "deep")) is doubted
        if acts:  # no swing is reckoned across it
            assert "wide-swing" not in {e.alarm for e in effects if isinstance(e, Transition)}


def test_a_calibration_kept_here_does_not_come_on_top_of_it_and_is_back_where_it_is_withdrawn() -> None:
    made = pipe_of()
    calibrated = act(BEGIN + DAY_MS, "calibrated", probe="ph", points=[[7.0, 7.4, 20.0]])
    run(made, *samples(BEGIN, SAID, off=0.4), calibrated, done())
    electrode = ph(made).electrode
    assert electrode.in_force.at == T
    assert electrode.ph(7.4) == pytest.approx(7.4)
    assert entered(made) == [(BEGIN + DAY_MS, "calibrated"), (T, "calibrated")]
    moved = {"probe": "ph", "when": iso(T - HOUR_MS)}
    body = {"entry": "a", "kind": "adjusted", "at": SAID, "body": moved}
    assert verdict(run(made, Act("put right", SAID + 1, "correct", body))).accepted
    assert (electrode.in_force.at, len(electrode.history.kept)) == (T - HOUR_MS, 2)
    assert entered(made)[1:] == [(T - HOUR_MS, "calibrated")]
    assert verdict(run(made, back("a", SAID))).accepted
    assert electrode.in_force.at == BEGIN + DAY_MS
    assert electrode.ph(7.4) == pytest.approx(7.0)
    assert entered(made) == [(BEGIN + DAY_MS, "calibrated")]


def test_one_that_is_told_late_does_not_take_the_place_of_a_later_calibration() -> None:
    made = pipe_of()
    calibrated = act(T + 30 * MINUTE_MS, "calibrated", probe="ph", points=[[7.0, 7.1, 20.0]])
    run(made, *samples(BEGIN, SAID, off=0.1, since=0.1), calibrated, done())
    assert ph(made).electrode.in_force.at == T + 30 * MINUTE_MS
    assert [each.at for each in ph(made).electrode.history.kept] == [T, T + 30 * MINUTE_MS]


def test_the_memory_has_it_however_it_comes_back() -> None:
    acts = [
        act(BEGIN + DAY_MS, "calibrated", probe="ph", points=[[7.0, 7.4, 20.0]]),
        done(), done("b", SAID + 1, when=iso(T + 1)),
        back("b", SAID + 1),
    ]  # fmt: skip
    made, again, recalled = pipe_of(), pipe_of(), pipe_of()
    run(made, *samples(BEGIN, SAID, off=0.6), *acts)
    again.restore(json.loads(json.dumps(made.save())))
    assert again.save() == made.save()
    assert ph(again).electrode.in_force == ph(made).electrode.in_force
    recalled.recall(acts)
    assert ph(recalled).electrode.history.kept == ph(made).electrode.history.kept


def test_while_it_is_being_done_the_probe_is_out() -> None:
    made = pipe_of()
    effects = run(made, *samples(BEGIN, T + 10 * MINUTE_MS, off=0.0), act(T, "adjusted", probe="ph", **{"for": "20m"}))
    assert ph(made).out_until == T + 20 * MINUTE_MS
    assert verdict(effects).text.endswith("the probe's alarms are suppressed meanwhile")


def test_millivolts_have_no_transmitter() -> None:
    made = Pipeline(shipped(), POND, [("ph", "electrode_mv", None, None)])
    for entry in (done(), done(probe="moon")):
        found = verdict(run(made, entry))
        assert not found.accepted
    assert ph(made).electrode.in_force.never
