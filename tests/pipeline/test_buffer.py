"""The buffer line in the fold: one forecast a morning, one incident told by day, acts that count, nothing forgotten."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import datetime
from math import log10
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Effect, Event, Forecast, Transition, Verdict
from dawnline.outlook.buffer_watch import ALARM
from dawnline.outlook.sun import Sun
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import MEASURED as POND
from ..pond import fold

ZONE = ZoneInfo("Europe/Berlin")
BEGIN = round(datetime(2026, 6, 1, tzinfo=ZONE).timestamp() * 1000)
STEP = 10 * MINUTE_MS
DAYS = 15


def ph(at: int, a_day: float = 0.06) -> float:
    """7.5 at dawn and 8.1 in the afternoon at 1 meq/L; of that 0.06 a day is used: under 6.5 from day 15 on."""
    hour = ((at - BEGIN) / HOUR_MS - 5) % 24
    share = max(1e-3, 1.0 - a_day * (at - BEGIN) / DAY_MS)
    return 7.5 + 0.6 * (hour if hour <= 12 else 24 - hour) / 12 + log10(share)


def samples(days: int = DAYS, a_day: float = 0.06, probe: str = "ph") -> Iterator[Sample]:
    for at in range(BEGIN, BEGIN + days * DAY_MS, STEP):
        yield Sample(probe, at, round(ph(at, a_day), 3), at)


def pipeline(*more: str) -> Pipeline:
    return Pipeline(
        shipped(), POND, [(name, "ph", None, None) for name in ("ph", *more)] + [("water", "temperature", None, None)]
    )


def forecasts(effects: list[Effect]) -> list[Forecast]:
    return [effect for effect in effects if isinstance(effect, Forecast) and effect.about == "buffer"]


@pytest.fixture(scope="module")
def run() -> tuple[Pipeline, list[Effect]]:
    pipe = pipeline()
    return pipe, fold(pipe, samples())


def test_one_forecast_a_morning_when_the_dawn_window_closes(run: tuple[Pipeline, list[Effect]]) -> None:
    found, sun = forecasts(run[1]), Sun(47.95, 8.21, ZONE)
    closed = [sun.day_at(BEGIN + n * DAY_MS + HOUR_MS).dawn[1] for n in range(DAYS)]
    assert [each.at for each in found] == [-(-at // MINUTE_MS) * MINUTE_MS for at in closed]


def test_a_forecast_has_the_keys_of_the_contract(run: tuple[Pipeline, list[Effect]]) -> None:
    first, last = forecasts(run[1])[0].body, forecasts(run[1])[-1].body
    contract = ("reaches_low_on", "earliest", "latest", "lead_days", "trend")
    assert [first[key] for key in contract] == [None, None, None, None, "unclear"]
    assert "not evaluated: too few nights" in first["text"]
    assert last["trend"] == "falling"
    assert last["earliest"] <= last["reaches_low_on"] <= last["latest"]
    assert last["reaches_low_on"] in ("2026-06-15", "2026-06-16", "2026-06-17")


def test_a_probe_known_to_drift_is_named_in_what_its_line_says(run: tuple[Pipeline, list[Effect]]) -> None:
    tests = [Act(f"test {day}", BEGIN + day * DAY_MS + 12 * HOUR_MS, "hand-test", {"ph": 8.6}) for day in (11, 12, 13)]
    events = sorted([*samples(), *tests], key=lambda event: event.at)
    effects = fold(pipeline(), events)
    raised = [each.text for each in effects if isinstance(each, Transition) and each.alarm == ALARM]
    assert "drifting from the hand test" not in raised[0]  # nobody had tested yet
    drift = forecasts(effects)[-1].body["text"]
    assert "; but ph is drifting from the hand test: it shows" in drift
    assert drift.endswith("test KH before you believe it")
    assert "but ph is" not in forecasts(run[1])[-1].body["text"]


def test_one_incident_told_by_day_that_escalates(run: tuple[Pipeline, list[Effect]]) -> None:
    told = [each for each in run[1] if isinstance(each, Transition) and each.alarm == ALARM]
    assert told[0].change == "raised"
    assert {each.change for each in told[1:]} == {"escalated"}
    assert told[-1].priority == "high"
    assert len({each.id for each in told}) == 1
    assert all(each.probe is None for each in told)
    sun = Sun(47.95, 8.21, ZONE)
    for each in told:
        day = sun.day_at(each.at)
        assert day.sunrise + 2 * HOUR_MS <= each.at < day.sunset
    assert " to " in told[0].text


def test_a_steady_pond_is_left_in_peace() -> None:
    effects = fold(pipeline(), samples(a_day=0.0))
    assert forecasts(effects)[-1].body["trend"] == "steady"
    assert not [each for each in effects if isinstance(each, Transition) and each.alarm == ALARM]


def test_the_alarm_ends_a_day_after_the_buffer_is_back() -> None:
    """Bicarbonate on day 12 more than doubles what there is; the keeper logged it."""
    at = BEGIN + 12 * DAY_MS + 14 * HOUR_MS
    grams = 0.7 * 14000 * 84.007 / 1000
    events: list[Event] = [Act("1", at, "dose", {"what": "sodium bicarbonate", "grams": grams}, "ada")]
    for sample in samples(17):
        share = 1.0 - 0.06 * (sample.at - BEGIN) / DAY_MS
        gain = log10((share + 0.7) / max(share, 1e-3)) if sample.at >= at else 0.0
        events.append(sample._replace(value=round(sample.value + gain, 3)))
    effects = fold(pipeline(), sorted(events, key=lambda event: event.at))
    told = [each for each in effects if isinstance(each, Transition) and each.alarm == ALARM]
    after = next(each for each in told if each.at > at)
    assert after.change == "returned"
    assert after.at - at < 3 * DAY_MS
    assert all(each.priority == "low" for each in told if each.at > after.at)  # it lasts two weeks more


ACTS: list[tuple[str, dict[str, Any], list[str]]] = [
    ("hand-test", {"kh_dkh": 3.0}, ["tested"]),
    ("hand-test", {"ph": 7.0}, []),
    ("water-change", {"share": 0.15, "source_kh_dkh": 1.0}, ["diluted"]),
    ("water-change", {"litres": 1400, "source_kh_dkh": 1.0}, ["diluted"]),
    ("water-change", {"share": 0.15}, ["stepped"]),
    ("dose", {"what": "Baking soda", "grams": 200}, ["added"]),
    ("dose", {"what": "something", "grams": 200}, ["stepped"]),
    ("rain", {"mm": 20}, ["rained"]),
    ("feed", {"grams_a_day": 100}, ["fed"]),
    ("aeration", {"state": "less"}, ["stepped"]),
    ("ice", {"state": "closed"}, ["ice"]),
    ("media", {"what": "shell"}, ["stepped"]),
    ("cleaning", {"probe": "ph"}, ["cleaned"]),
    ("calibration", {"probe": "ph"}, ["calibrated"]),
    ("out-of-service", {"probe": "ph", "for": "30m"}, []),
    ("note", {"note": "a heron"}, []),
]


@pytest.mark.parametrize(("kind", "body", "entered"), ACTS, ids=[f"{kind}-{n}" for n, (kind, *_) in enumerate(ACTS)])
def test_acts_reach_the_line(kind: str, body: dict[str, Any], entered: list[str]) -> None:
    pipe = pipeline()
    fold(pipe, [Sample("ph", BEGIN, 7.5, BEGIN)])
    effects = pipe.step(Act("1", BEGIN + HOUR_MS, kind, body, "ada"))
    assert [each.accepted for each in effects if isinstance(each, Verdict)] == [True]
    assert [row[1] for row in pipe.buffer.lines["ph"].diary.entries] == entered


def test_a_cleaning_that_is_corrected_or_withdrawn_stands_once_or_not_at_all() -> None:
    pipe = pipeline()
    fold(pipe, [Sample("ph", BEGIN, 7.5, BEGIN)])
    for name, kind, body in (
        ("1", "cleaning", {"probe": "ph"}),
        ("2", "correct", {"entry": "1", "kind": "cleaning", "at": BEGIN, "body": {"probe": "ph", "when": BEGIN + 7}}),
    ):
        pipe.step(Act(name, BEGIN + HOUR_MS, kind, body, "ada"))
    assert [row[:2] for row in pipe.buffer.lines["ph"].diary.entries] == [(BEGIN + 7, "cleaned")]
    pipe.step(Act("3", BEGIN + HOUR_MS, "withdraw", {"entry": "1", "at": BEGIN}, "ada"))
    assert not pipe.buffer.lines["ph"].diary.entries


def test_work_at_one_probe_is_not_work_at_the_other() -> None:
    pipe = pipeline("ph2")
    pipe.step(Act("1", BEGIN, "calibration", {"probe": "ph2"}, "ada"))
    assert not pipe.buffer.lines["ph"].diary.entries
    assert pipe.buffer.lines["ph2"].diary.entries
    pipe.buffer.checked("ph", BEGIN, 0.04)
    assert list(pipe.buffer.lines["ph"].diary.entries) == [(BEGIN, "checked", 0.04, 0.0, "")]


def test_a_second_probe_speaks_where_the_first_has_no_night() -> None:
    pipe = pipeline("ph2")
    found = forecasts(fold(pipe, samples(9, probe="ph2")) + fold(pipe, samples(1)))
    assert {each.body["probe"] for each in found} <= {"ph", "ph2"}
    assert found[-1].body["probe"] == "ph2"
    assert "not evaluated" not in found[-1].body["text"]


def test_cut_in_two_it_is_the_same(run: tuple[Pipeline, list[Effect]]) -> None:
    events = list(samples())
    cut = BEGIN + 11 * DAY_MS + 9 * HOUR_MS
    first = pipeline()
    before = fold(first, [each for each in events if each.at < cut])
    memory = json.dumps(first.save())
    second = pipeline()
    second.restore(json.loads(memory))
    after = fold(second, [each for each in events if each.at >= cut])
    assert before + after == run[1]
    assert json.dumps(second.save()) == json.dumps(run[0].save())


def test_the_evidence_has_the_last_nights_and_the_line(run: tuple[Pipeline, list[Effect]]) -> None:
    evidence = run[0].buffer.evidence
    assert [night[0] for night in evidence["nights"]][-1] == "2026-06-15"
    assert len(evidence["nights"]) == 14
    assert all(abs(low - fitted) < 0.2 for _, low, fitted in evidence["nights"])
    assert evidence["used_a_day_percent"] > 5
    assert "feed" in evidence["doubt"]
