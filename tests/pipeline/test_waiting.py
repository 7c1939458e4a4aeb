"""A test by hand to which the probe has nothing to say yet waits until it has."""

from __future__ import annotations

import json
from typing import Any

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.electrode.history import Comparison
from dawnline.event import Act, Event, Transition
from dawnline.outlook.ph_watch import PhWatch
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import POND, fold

BEGIN = 1_780_437_600_000  # midnight in Berlin, 3 June 2026


def pipeline() -> Pipeline:
    return Pipeline(shipped(), POND, [("ph", "ph", None, None)])


def readings(start: int, end: int, ph: float) -> list[Event]:
    seconds = range(start, end, 10_000)
    return [Sample("ph", at, ph + 0.01 * (at // 10_000 % 3), at) for at in seconds]


def act(at: int, kind: str, **body: Any) -> Act:
    return Act(f"{kind}-{at}", at, kind, body, "ada")


def compared(pipe: Pipeline) -> list[Comparison]:
    watch = pipe.watches["ph"]
    assert isinstance(watch, PhWatch)
    return list(watch.electrode.history.hand_tests)


@pytest.mark.parametrize("after_s", [5, 125])
def test_right_after_the_start(after_s: int) -> None:
    tested, pipe = BEGIN + after_s * 1000, pipeline()
    fold(pipe, [*readings(BEGIN, tested, 7.5), act(tested, "hand-test", ph=7.3)])
    assert compared(pipe) == []
    again = pipeline()
    again.restore(json.loads(json.dumps(pipe.save())))
    fold(again, readings(tested + 5000, tested + 6 * MINUTE_MS, 7.5))
    assert compared(again) == [Comparison(tested, 7.3, pytest.approx(7.51))]


def test_while_the_probe_is_cleaned() -> None:
    """The probe read 1.2 too high; what it says when it is clean is compared, and nobody is told that it is off."""
    start, pipe = BEGIN + HOUR_MS, pipeline()
    work = [act(start, "cleaning", probe="ph", **{"for": "4m"}), act(start + MINUTE_MS, "hand-test", ph=7.4)]
    effects = fold(pipe, [*readings(BEGIN, start, 8.6), *work, *readings(start + 4 * MINUTE_MS, start + HOUR_MS, 7.4)])
    assert compared(pipe) == [Comparison(start + MINUTE_MS, 7.4, pytest.approx(7.41))]
    assert [each for each in effects if isinstance(each, Transition)] == []


def test_one_that_was_corrected_or_withdrawn_meanwhile() -> None:
    pipe = pipeline()
    first, second = act(BEGIN + 1000, "hand-test", ph=9.3), act(BEGIN + 2000, "hand-test", ph=7.4)
    body = {"kind": "hand-test", "entry": first.id, "at": first.at, "body": {"ph": 7.3}}
    gone = {"entry": second.id, "at": second.at}
    late = [Act("c", BEGIN + 3000, "correct", body, "ada"), Act("w", BEGIN + 4000, "withdraw", gone, "ada")]
    fold(pipe, [first, second, *late])
    fold(pipe, readings(BEGIN + 5000, BEGIN + 6 * MINUTE_MS, 7.5))
    assert [each.by_hand for each in compared(pipe)] == [7.3]


def test_across_a_time_of_unknown_length_it_says_nothing() -> None:
    pipe = pipeline()
    fold(pipe, [act(BEGIN + 1000, "hand-test", ph=7.3)])
    pipe.begin_unset(BEGIN + 2000)
    fold(pipe, readings(BEGIN + 5000, BEGIN + 6 * MINUTE_MS, 7.5))
    assert compared(pipe) == []


def test_after_ten_minutes_it_is_too_old_to_say_anything() -> None:
    pipe = pipeline()
    fold(pipe, [act(BEGIN + 1000, "hand-test", ph=7.3), *readings(BEGIN + 11 * MINUTE_MS, BEGIN + HOUR_MS, 7.5)])
    assert compared(pipe) == []
    assert pipe.waiting.tests == []


T = BEGIN + 6 * HOUR_MS  # two tests by hand have shown before that the probe reads 0.9 too high
WALK = act(T, "calibration", probe="ph", outcome=True, **{"for": "20m"})
BACK = act(T + 10 * MINUTE_MS, "return", probe="ph")


def off(*work: Act, after: float = 8.2, saved: bool = False) -> PhWatch:
    """The probe, half an hour after this work at it, when it shows `after`."""
    pipe = pipeline()
    tests = [act(BEGIN + HOUR_MS, "hand-test", ph=7.3), act(BEGIN + 5 * HOUR_MS + 30 * MINUTE_MS, "hand-test", ph=7.3)]
    fold(pipe, [*readings(BEGIN, T, 8.2), *tests, work[0]])
    if saved:
        pipe, before = pipeline(), pipe
        pipe.restore(json.loads(json.dumps(before.save())))
    fold(pipe, [*readings(T, T + 10 * MINUTE_MS, 10.0), *work[1:], *readings(T + 21 * MINUTE_MS, T + HOUR_MS, after)])
    watch = pipe.watches["ph"]
    assert isinstance(watch, PhWatch)
    return watch


@pytest.mark.parametrize("saved", [False, True])
@pytest.mark.parametrize(
    "work",
    [
        [WALK, BACK],
        [WALK],  # it comes back by itself
        [act(T, "out-of-service", probe="ph", **{"for": "20m"})],
        [WALK, act(T + MINUTE_MS, "calibrated", probe="ph", points=[[7.0, 7.9, 20.0]]), BACK],  # refused
        [WALK, act(T + MINUTE_MS, "buffer-check", probe="ph", buffer_ph=7.0, measured=7.9), BACK],
        [WALK, act(T + MINUTE_MS, "calibration", probe="ph", outcome=True, **{"for": "5m"}), BACK],  # begun anew
    ],
)
def test_what_spoke_against_the_probe_does_so_after_work_that_came_to_nothing(work: list[Act], *, saved: bool) -> None:
    assert off(*work, saved=saved).doubt.hand.error(T + HOUR_MS) == pytest.approx(0.6, abs=0.02)


@pytest.mark.parametrize(
    ("work", "after"),
    [
        ([WALK, BACK], 7.3),  # cleaned on the way, and nobody said so
        ([WALK, act(T + MINUTE_MS, "calibrated", probe="ph", points=[[7.0, 7.4, 20.0]]), BACK], 8.2),
        ([WALK, act(T + MINUTE_MS, "buffer-check", probe="ph", buffer_ph=7.0, measured=7.1), BACK], 8.2),
        ([WALK, act(T + MINUTE_MS, "cleaning", probe="ph", **{"for": "5m"}), BACK], 8.2),
    ],
)
def test_what_spoke_against_a_probe_that_was_seen_to_is_forgotten(work: list[Act], after: float) -> None:
    assert off(*work, after=after).doubt.hand.rows == []
