"""A pH probe that delivers millivolts, and calibration of either kind, through the whole fold."""

from __future__ import annotations

import json
from math import cos, pi, sin
from typing import Any

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.electrode.calibration import MV, Calibration
from dawnline.electrode.settings import CalibrationSettings
from dawnline.event import Act, Day, Effect, Event, Keep, Problem, Tick, Transition, Verdict
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.settings import LimitSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import POND, fold

BEGIN = 1_780_437_600_000  # midnight in Berlin, 3 June 2026
SLOPE, OFFSET = 96.0, -8.0  # of the electrode in these tests
GLASS = Calibration(MV, SLOPE, OFFSET)


def ph_at(at: int) -> float:
    return 7.3 - 0.3 * cos(2 * pi * ((at - BEGIN) / DAY_MS - 5 / 24))


def celsius_at(at: int) -> float:
    return 16.0 + 3.0 * sin(2 * pi * ((at - BEGIN) / DAY_MS - 0.4))


def pipeline(quantity: str = "electrode_mv", **settings: Any) -> Pipeline:
    return Pipeline(
        shipped(),
        POND,
        [("ph", quantity, None, None), ("water", "temperature", None, None)],
        calibration=CalibrationSettings.model_validate(settings),
        compensated_by={"ph": "water"},
    )


def samples(start: int, end: int, quantity: str = "electrode_mv", off: float = 0.0) -> list[Event]:
    found: list[Event] = []
    for at in range(start, end, MINUTE_MS):
        ph, celsius = ph_at(at) + off, celsius_at(at)
        value = GLASS.measured(ph, celsius) if quantity == "electrode_mv" else ph
        found += [Sample("water", at, celsius, at), Sample("ph", at, value, at)]
    return found


def act(at: int, kind: str, **body: Any) -> Act:
    at_probe = {} if kind in ("hand-test", "note") else {"probe": "ph"}
    return Act(f"{kind}-{at}", at, kind, at_probe | body, "ada")


def buffers(*values: float, celsius: float = 20.0, slope: float = SLOPE, offset: float = OFFSET) -> list[list[float]]:
    return [[ph, Calibration(MV, slope, offset).measured(ph, celsius), celsius] for ph in values]


def changes(effects: list[Effect], *names: str) -> list[tuple[str, str]]:
    return [(e.alarm, e.change) for e in effects if isinstance(e, Transition) and (not names or e.alarm in names)]


def electrode_of(pipe: Pipeline) -> Any:
    watch = pipe.watches["ph"]
    assert isinstance(watch, PhWatch)
    return watch.electrode


def test_millivolts_give_the_days_that_ph_gives() -> None:
    calibrated = act(BEGIN, "calibrated", points=buffers(7.02, 10.06))
    events = [calibrated, *samples(BEGIN + MINUTE_MS, BEGIN + 2 * DAY_MS + HOUR_MS)]
    found = [e for e in fold(pipeline(), events) if isinstance(e, Day)]
    plain = samples(BEGIN + MINUTE_MS, BEGIN + 2 * DAY_MS + HOUR_MS, "ph")
    expected = [e for e in fold(pipeline("ph"), plain) if isinstance(e, Day)]
    assert len(found) == len(expected) == 2
    for mine, theirs in zip(found, expected, strict=True):
        assert (mine.dawn_low, mine.dusk_high, mine.mean) == pytest.approx(
            (theirs.dawn_low, theirs.dusk_high, theirs.mean), abs=0.002
        )
        assert mine.dawn_low == pytest.approx(7.0, abs=0.01)


def test_readings_stay_as_measured() -> None:
    events = samples(BEGIN, BEGIN + HOUR_MS)
    kept = [e.reading.value for e in fold(pipeline(), events) if isinstance(e, Keep)]
    assert kept == [e.value for e in events if isinstance(e, Sample)]


def test_alarms_of_a_millivolt_probe_speak_of_ph() -> None:
    pipe = pipeline()
    fold(pipe, [act(BEGIN, "calibrated", points=buffers(7.0))])
    low = samples(BEGIN + MINUTE_MS, BEGIN + 2 * HOUR_MS, off=-0.8)
    raised = [e for e in fold(pipe, low) if isinstance(e, Transition) and e.alarm == "ph-low"]
    assert raised[0].change == "raised"
    assert raised[0].value == pytest.approx(6.4, abs=0.15)


def test_a_refused_calibration_changes_nothing() -> None:
    pipe = pipeline()
    fold(pipe, [act(BEGIN, "calibrated", points=buffers(7.0, 10.0))])
    before = pipe.save()["watches"]
    [verdict] = fold(pipe, [act(BEGIN, "calibrated", points=buffers(7.0, 10.0, slope=80.0))])
    assert isinstance(verdict, Verdict)
    assert not verdict.accepted
    assert "the slope is 80.0 % of the ideal" in verdict.text
    assert pipe.save()["watches"] == before


def test_an_accepted_one_says_what_it_found() -> None:
    [verdict] = fold(pipeline(), [act(BEGIN, "calibrated", points=buffers(7.0, 10.0))])
    assert isinstance(verdict, Verdict)
    assert verdict.accepted
    assert verdict.text.startswith("in force: slope 96.0 %, offset -8.0 mV at pH 7, zero point pH 6.86; within")


@pytest.mark.parametrize("kind", ["calibrated", "buffer-check"])
def test_a_thermometer_is_not_calibrated(kind: str) -> None:
    body = {"points": [[7, 0, 25]]} if kind == "calibrated" else {"buffer_ph": 7, "measured": 0}
    [verdict] = fold(pipeline(), [Act("a", BEGIN, kind, {"probe": "water", **body})])
    assert isinstance(verdict, Verdict)
    assert "water measures temperature" in verdict.text


def test_without_a_thermometer_25_degrees_are_assumed_and_it_is_said() -> None:
    pipe = Pipeline(shipped(), POND, [("ph", "electrode_mv", None, None)])
    fold(pipe, [Sample("ph", BEGIN, -59.159, BEGIN)])
    assert electrode_of(pipe).ph(-59.159) == pytest.approx(8.0, abs=1e-4)
    assert "25 degC assumed: no thermometer" in electrode_of(pipe).compensation(BEGIN)
    other = pipeline()
    assert "has not spoken" in electrode_of(other).compensation(BEGIN)
    fold(other, [Sample("water", BEGIN + n * 1000, 10.0, BEGIN + n * 1000) for n in range(3)])
    assert electrode_of(other).compensation(BEGIN) == "10.0 degC measured"
    assert "last known 2 h ago" in electrode_of(other).compensation(BEGIN + 2 * HOUR_MS + 2000)
    assert electrode_of(other).ph(-56.183) == pytest.approx(8.0, abs=1e-4)


def test_a_bad_temperature_compensates_nothing() -> None:
    pipe = pipeline()
    rows = [*[10.0] * 5, 85.0]
    fold(pipe, [Sample("water", BEGIN + n * 1000, t, BEGIN + n * 1000) for n, t in enumerate(rows)])
    assert electrode_of(pipe).celsius == 10.0


def test_millivolts_never_calibrated_are_due_and_finished_ph_is_not() -> None:
    mv = fold(pipeline(), samples(BEGIN, BEGIN + 2 * HOUR_MS))
    [raised] = [e for e in mv if isinstance(e, Transition) and e.alarm == "calibration-due"]
    assert (raised.change, raised.priority, raised.text) == ("raised", "low", "it was never calibrated")
    assert changes(fold(pipeline("ph"), samples(BEGIN, BEGIN + 2 * HOUR_MS, "ph"))) == []


def test_due_by_age_until_it_is_done() -> None:
    pipe = pipeline("ph", due_after="2d")
    events: list[Event] = [act(BEGIN, "calibrated", points=[[7.0, 7.1, 20.0]])]
    events += [Tick(at) for at in range(BEGIN, BEGIN + 3 * DAY_MS, 10 * MINUTE_MS)]
    events += [act(BEGIN + 3 * DAY_MS, "calibrated", points=[[7.0, 7.12, 20.0]]), Tick(BEGIN + 3 * DAY_MS + HOUR_MS)]
    assert changes(fold(pipe, events), "calibration-due") == [
        ("calibration-due", "raised"), ("calibration-due", "returned"),
    ]  # fmt: skip


def test_due_by_hand_tests_that_disagree() -> None:
    pipe = pipeline("ph", hand_test_step=0.1)
    events = samples(BEGIN, BEGIN + 5 * HOUR_MS, "ph")
    events += [act(BEGIN + n * HOUR_MS + 1, "hand-test", ph=round(ph_at(BEGIN) - 0.5, 1)) for n in (2, 4)]
    events.sort(key=lambda e: e.received_at if isinstance(e, Sample) else e.at)
    [raised] = [e for e in fold(pipe, events) if isinstance(e, Transition)]
    assert raised.alarm == "calibration-due"
    assert "tests by hand differ from it" in raised.text


def walk(at: int, *, finish: str | None) -> list[Event]:
    found: list[Event] = [act(at, "calibration", outcome=True, **{"for": "30m"})]
    if finish == "calibrated":
        found.append(act(at + 10 * MINUTE_MS, "calibrated", points=[[7.0, 7.4, 20.0]]))
    if finish == "buffer-check":
        found.append(act(at + 10 * MINUTE_MS, "buffer-check", buffer_ph=7.0, measured=7.1))
    if finish is not None:
        found.append(act(at + 12 * MINUTE_MS, "return"))
    return found


@pytest.mark.parametrize("finish", ["calibrated", "buffer-check", "return"])
def test_work_that_ends_reminds_nobody(finish: str) -> None:
    events = [*walk(BEGIN + HOUR_MS, finish=finish), *samples(BEGIN, BEGIN + 4 * HOUR_MS, "ph")]
    events.sort(key=lambda e: e.received_at if isinstance(e, Sample) else e.at)
    assert changes(fold(pipeline("ph"), events)) == []


def test_work_that_does_not_end_comes_back_by_itself_and_reminds() -> None:
    events = [*walk(BEGIN + HOUR_MS, finish=None), *samples(BEGIN, BEGIN + 30 * HOUR_MS, "ph")]
    events.sort(key=lambda e: e.received_at if isinstance(e, Sample) else e.at)
    pipe = pipeline("ph")
    found = [e for e in fold(pipe, events) if isinstance(e, Transition)]
    assert [(e.alarm, e.change) for e in found] == [("calibration-due", "raised"), ("calibration-due", "returned")]
    assert found[0].at == BEGIN + HOUR_MS + 30 * MINUTE_MS
    assert "by itself" in found[0].text
    assert found[1].text == "not due any more"  # nobody has calibrated it
    assert 24 * HOUR_MS <= found[1].at - found[0].at <= 26 * HOUR_MS
    assert pipe.watches["ph"].out_until == BEGIN + HOUR_MS + 30 * MINUTE_MS


def test_a_correction_is_no_fall_and_no_swing() -> None:
    """The probe read 0.4 too high; from now on everything is 0.4 lower, and nobody is told."""
    start = BEGIN + DAY_MS + 13 * HOUR_MS
    events = [*samples(BEGIN, BEGIN + 3 * DAY_MS + HOUR_MS, "ph", off=0.4), *walk(start, finish="calibrated")]
    events.sort(key=lambda e: e.received_at if isinstance(e, Sample) else e.at)
    limits = LimitSettings(swing_wide=0.8)
    pipe = Pipeline(shipped(), POND, [("ph", "ph", None, None), ("water", "temperature", None, None)], limits)
    effects = fold(pipe, events)
    assert changes(effects) == []
    assert [e.dawn_low for e in effects if isinstance(e, Day)][-1] == pytest.approx(7.0, abs=0.01)


@pytest.mark.parametrize("off", [-0.3, 0.3])
def test_after_a_correction_a_fall_is_seen_as_soon_as_ever(off: float) -> None:
    """What was learned of the pond's levels is seen in the light of the new calibration."""
    start, fall = BEGIN + 6 * DAY_MS + 13 * HOUR_MS, BEGIN + 6 * DAY_MS + 22 * HOUR_MS

    def raised(shown: float, *, calibrated: bool) -> int:
        events = samples(BEGIN, start, "ph", off=shown)
        for event in samples(start, fall + 3 * HOUR_MS, "ph", off=shown):
            assert isinstance(event, Sample)
            down = 0.5 * max(0, event.at - fall) / HOUR_MS if event.probe == "ph" else 0.0
            events.append(event._replace(value=event.value - down))
        if calibrated:
            work = walk(start, finish="return")
            events += [*work, act(start + 10 * MINUTE_MS, "calibrated", points=[[7.0, 7.0 + shown, 20.0]])]
        events.sort(key=lambda e: e.received_at if isinstance(e, Sample) else e.at)
        found = [e for e in fold(pipeline("ph"), events) if isinstance(e, Transition)]
        assert "probe-suspect" not in {e.alarm for e in found}
        return next(e.at for e in found if e.alarm == "sudden-drop")

    assert raised(off, calibrated=True) == pytest.approx(raised(0.0, calibrated=False), abs=3 * MINUTE_MS)


def entered(pipe: Pipeline) -> list[tuple[str, float]]:
    """What the buffer line has heard of its probe."""
    [line] = pipe.buffer.of("ph")
    return [(kind, round(a, 3)) for _, kind, a, *_ in line.diary.entries]


def test_a_check_in_another_buffer_than_was_named_is_refused_and_leaves_nothing() -> None:
    pipe = pipeline("ph")
    effects = fold(
        pipe, [*walk(BEGIN, finish=None), act(BEGIN + 3 * MINUTE_MS, "buffer-check", buffer_ph=7.02, measured=10.06)]
    )
    (said,) = [each.text for each in effects if isinstance(each, Verdict) and not each.accepted]
    assert said.startswith("it reads pH 10.06 in a buffer of 7.02: did it stand in the buffer that was named?")
    assert entered(pipe) == []
    assert not electrode_of(pipe).history.checks
    assert electrode_of(pipe).reasons == []


def test_the_buffer_line_hears_of_checks_and_calibrations() -> None:
    pipe = pipeline("ph")
    fold(pipe, walk(BEGIN, finish="buffer-check"))
    assert entered(pipe) == [("checked", 0.1)]
    fold(pipe, walk(BEGIN + HOUR_MS, finish="calibrated"))
    assert entered(pipe)[1:] == [("checked", 0.4), ("calibrated", 0.0)]
    fold(pipe, samples(BEGIN + 2 * HOUR_MS, BEGIN + 3 * HOUR_MS, "ph"))
    fold(pipe, [act(BEGIN + 3 * HOUR_MS, "calibrated", points=[[7.0, 7.5, 20.0]])])
    assert entered(pipe)[3:] == [("checked", 0.1), ("calibrated", 0.0)]  # 0.4 of it was known


@pytest.mark.parametrize("finish", [None, "return"])
def test_a_calibration_that_came_to_nothing_is_none_to_the_buffer_line(finish: str | None) -> None:
    pipe = pipeline("ph")
    fold(pipe, walk(BEGIN, finish=finish))
    fold(pipe, [act(BEGIN + HOUR_MS, "calibrated", points=[[7.0, 9.0, 20.0]])])  # refused
    assert entered(pipe) == []
    fold(pipe, [act(BEGIN + 2 * HOUR_MS, "calibration", **{"for": "10m"})])  # at the probe's own interface
    assert entered(pipe) == [("calibrated", 0.0)]


def test_in_pieces_as_in_one_go() -> None:
    events = [
        *samples(BEGIN, BEGIN + 6 * HOUR_MS),
        act(BEGIN + HOUR_MS, "calibration", outcome=True, **{"for": "20m"}),
        act(BEGIN + HOUR_MS + 1, "calibrated", points=buffers(7.0, 10.0)),
        act(BEGIN + 2 * HOUR_MS, "buffer-check", buffer_ph=7.0, measured=-9.0),
        act(BEGIN + 3 * HOUR_MS, "hand-test", ph=7.5),
        act(BEGIN + 4 * HOUR_MS, "calibration", outcome=True, **{"for": "20m"}),
    ]
    events.sort(key=lambda e: e.received_at if isinstance(e, Sample) else e.at)
    whole = pipeline()
    expected = fold(whole, events)
    piece, found = pipeline(), []
    for n in range(0, len(events), 7):
        found += fold(piece, events[n : n + 7])
        saved = json.loads(json.dumps(piece.save()))
        piece = pipeline()
        piece.restore(saved)
    assert found == expected
    assert json.dumps(piece.save()) == json.dumps(whole.save())
    assert not any(isinstance(e, Problem) for e in found)


def test_calibrations_from_before_the_memory_are_recalled() -> None:
    done: list[Event] = [
        act(BEGIN, "calibrated", points=buffers(7.0, 10.0)),
        act(BEGIN + 1, "calibrated", points=buffers(7.0, offset=-6)),
        act(BEGIN + 2, "note", note="rain"),
        act(BEGIN + 3, "buffer-check", buffer_ph=7.0, measured=-5.0),
    ]
    lived, recalled = pipeline(), pipeline()
    fold(lived, done)
    recalled.recall(each for each in done if isinstance(each, Act))
    assert electrode_of(recalled).save() == electrode_of(lived).save()
    assert electrode_of(recalled).in_force.slope == pytest.approx(96.0)
    assert electrode_of(recalled).in_force.offset == pytest.approx(-6.0)


@pytest.mark.parametrize("odd", [0.0, 0.6])
def test_a_thermometer_that_stands_in_the_buffer_too_is_not_held_against_either(odd: float) -> None:
    """Lifted out together, into a warm cup and back; half an hour later one odd reading of the probe is only odd."""
    out, back, later = BEGIN + 8 * HOUR_MS, BEGIN + 8 * HOUR_MS + 15 * MINUTE_MS, BEGIN + 8 * HOUR_MS + 40 * MINUTE_MS
    events: list[Event] = [act(BEGIN, "calibrated", points=buffers(7.02, 10.06))]
    for each in samples(BEGIN + MINUTE_MS, BEGIN + 12 * HOUR_MS):
        assert isinstance(each, Sample)
        if each.at == out:
            events.append(act(out, "calibration", **{"for": "30m", "outcome": True}))
        warmer = 6.0 if each.probe == "water" and out < each.at < back else 0.0
        off = odd * 57.0 if each.probe == "ph" and each.at == later else 0.0
        events.append(Sample(each.probe, each.at, each.value + warmer + off, each.at))
        if each.probe == "ph" and each.at == back + MINUTE_MS:
            events.append(act(each.at, "return"))
    assert changes(fold(pipeline(), events), "probe-suspect") == []
