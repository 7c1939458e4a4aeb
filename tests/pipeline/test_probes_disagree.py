"""A probe contradicted by its twin or by tests by hand: who is named, and who is still woken."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime

import pytest

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act, Event, Transition, Verdict
from dawnline.outlook.finding import Condition
from dawnline.people.last_night import last_night
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

from ..pond import POND

BEGIN = round(datetime.fromisoformat("2026-06-04T00:00:00+02:00").timestamp() * 1000)
FAULT = BEGIN + 8 * DAY_MS


def pond(at: int) -> float:
    """7.0 at five in the morning, 7.6 at five in the afternoon."""
    hour = ((at - BEGIN) / HOUR_MS - 5) % 24
    return 7.0 + 0.6 * (hour if hour <= 12 else 24 - hour) / 12


def events(days: float, probes: dict[str, Callable[[int], float]], acts: list[Act]) -> Iterator[Event]:
    waiting = list(acts)
    for at in range(BEGIN, BEGIN + round(days * DAY_MS), MINUTE_MS):
        while waiting and waiting[0].at <= at:
            yield waiting.pop(0)
        for name, value in probes.items():
            yield Sample(name, at, round(value(at), 2), at)


def told(days: float, probes: dict[str, Callable[[int], float]], acts: list[Act] | None = None) -> list[Transition]:
    pipe = Pipeline(shipped(), POND, [(name, "ph", None, None) for name in probes])
    effects = [effect for event in events(days, probes, acts or []) for effect in pipe.step(event)]
    return [e for e in effects if isinstance(e, Transition) and e.change == "raised" and e.priority != "low"]


def drifting(at: int) -> float:
    """Four tenths a day away from the pond, beginning at FAULT: below 6.5 at the second dawn."""
    return pond(at) - max(0.0, 0.4 * (at - FAULT) / DAY_MS)


def crashing(at: int) -> float:
    return pond(at) - max(0.0, 0.2 * (at - FAULT) / HOUR_MS)


def hand_tests(*when: int, ph: Callable[[int], float] = pond) -> list[Act]:
    return [Act(str(at), at, "hand-test", {"ph": round(ph(at) * 5) / 5}) for at in when]


def test_one_of_twins_that_drifts_is_named_and_wakes_nobody() -> None:
    found = told(11, {"ph": drifting, "deep": lambda at: pond(at) + 0.1})
    assert [(e.alarm, e.probe) for e in found] == [("probe-suspect", "ph")]
    assert found[0].text.startswith("drifting from its twin: it shows 0.3")
    assert FAULT + 12 * HOUR_MS < found[0].at < FAULT + 30 * HOUR_MS


def test_without_a_twin_the_same_readings_must_wake_somebody() -> None:
    assert ("ph-low", "high") in [(e.alarm, e.priority) for e in told(11, {"ph": drifting})]


def test_twins_that_fall_together_wake_somebody_both() -> None:
    found = told(8.3, {"ph": crashing, "deep": crashing})
    assert {(e.alarm, e.probe) for e in found} >= {("ph-low", "ph"), ("ph-low", "deep"), ("sudden-drop", "ph")}
    assert "probe-suspect" not in {e.alarm for e in found}


def test_a_fall_that_only_one_of_two_sees_is_told_as_the_probes() -> None:
    """Water passes both of them within the hour: what the other, which moves, does not share is none."""
    found = told(8.3, {"ph": crashing, "deep": pond})
    assert [(e.alarm, e.probe) for e in found] == [("probe-suspect", "ph")]
    assert found[0].at < FAULT + 3 * HOUR_MS


def test_a_fall_beside_one_that_stands_still_is_told() -> None:
    found = told(8.3, {"ph": crashing, "deep": lambda at: pond(min(at, FAULT - 4 * HOUR_MS))})
    assert {"night-slide", "sudden-drop"} & {e.alarm for e in found if e.probe == "ph"}


@pytest.mark.parametrize("off", [-0.45, 0.45])
def test_a_probe_is_not_accused_since_its_twin_was_calibrated(off: float) -> None:
    """They hung apart from the first day on; then one of them is put right, and nobody drifts."""
    noon = FAULT + 12 * HOUR_MS
    acts = [
        Act("a", noon, "calibration", {"probe": "deep", "for": "30m", "outcome": True}),
        Act("b", noon + 10 * MINUTE_MS, "calibrated", {"probe": "deep", "points": [[7.0, 7.0 + off, 20.0]]}),
        Act("c", noon + 12 * MINUTE_MS, "return", {"probe": "deep"}),
    ]

    def deep(at: int) -> float:
        return (7.0 if noon <= at < noon + 12 * MINUTE_MS else pond(at)) + off

    assert told(9.5, {"ph": pond, "deep": deep}, acts) == []
    at_its_own_interface = [Act("a", noon, "calibration", {"probe": "deep", "for": "12m"})]
    assert told(9.5, {"ph": pond, "deep": deep}, at_its_own_interface) == []


VISIT = FAULT + 2 * DAY_MS + 8 * HOUR_MS


@pytest.mark.parametrize(
    ("ends", "right_after"),
    [
        (("calibration", "return"), False),  # aborted
        (("calibration", "calibrated", "return"), False),  # its readings stay as they are, and mean something else
        (("calibration", "buffer-check", "return"), False),
        (("cleaning",), True),
        (("out-of-service", "return"), False),
    ],
)
def test_whoever_is_well_is_not_accused_while_its_twin_is_seen_to(ends: tuple[str, ...], *, right_after: bool) -> None:
    body = {
        "calibration": {"outcome": True, "for": "30m"}, "calibrated": {"points": [[7.0, 7.55, 20.0]]},
        "buffer-check": {"buffer_ph": 7.0, "measured": 7.6}, "cleaning": {"for": "10m"},
        "out-of-service": {"for": "1h"}, "return": {},
    }  # fmt: skip

    def off(at: int) -> float:
        away = min(0.6, max(0.0, 0.6 * (at - FAULT) / DAY_MS))
        return pond(at) + (0.0 if right_after and at > VISIT else away)

    acts = [Act(kind, VISIT + 5 * n * MINUTE_MS, kind, {"probe": "ph"} | body[kind]) for n, kind in enumerate(ends)]
    found = told(12, {"ph": off, "deep": pond}, acts)
    assert {(e.alarm, e.probe) for e in found} == {("probe-suspect", "ph")}
    assert [e.at for e in found if e.at > VISIT] == []


@pytest.mark.parametrize("ends", [("calibration", "buffer-check", "return"), ("cleaning",)])
def test_whoever_may_be_wrong_is_not_cleared_and_accused_anew_for_a_visit_to_its_twin(ends: tuple[str, ...]) -> None:
    body = {
        "calibration": {"outcome": True, "for": "30m"}, "buffer-check": {"buffer_ph": 7.0, "measured": 7.02},
        "cleaning": {"for": "10m"}, "return": {},
    }  # fmt: skip

    def away(at: int) -> float:
        return min(0.225, max(0.0, 0.075 * (at - FAULT) / DAY_MS))

    visit = FAULT + 3 * DAY_MS + 9 * HOUR_MS
    acts = [Act(kind, visit + 5 * n * MINUTE_MS, kind, {"probe": "ph"} | body[kind]) for n, kind in enumerate(ends)]
    found = told(12.5, {"ph": lambda at: pond(at) - away(at), "deep": lambda at: pond(at) + away(at)}, acts)
    suspects = [each for each in found if each.alarm == "probe-suspect"]
    assert sorted(str(each.probe) for each in suspects) == ["deep", "ph"]
    assert all(each.at < visit for each in suspects)


def test_a_low_of_a_probe_that_its_twin_contradicts_says_so() -> None:
    pipe = Pipeline(shipped(), POND, [(name, "ph", None, None) for name in ("ph", "deep")])
    said = []
    for event in events(0.1, {"ph": pond, "deep": lambda at: pond(at) - 0.9}, []):
        pipe.step(event)
        said.append(pipe.desk.evidence("ph-low", "deep"))
    assert (said[50] or "").endswith("below 6.5")  # who is right is looked at for half an hour first
    assert "; but the probe is doubted: drifting from its twin: it shows 0.9" in (said[-1] or "")
    assert (said[-1] or "").endswith("which of them is wrong cannot be told")
    words, watches = pipe.desk.catalogue.words, pipe.watches.values()
    night = last_night(words, watches, pipe.now, POND.zone, pipe.desk.doubt).splitlines()
    assert [" The probe is doubted: drifting from its twin: it shows 0." in row for row in night] == [True, True]
    assert "doubted" not in last_night(words, watches, pipe.now, POND.zone)
    effects = pipe.step(Act("m", pipe.now, "medication", {"what": "copper"}))
    (verdict,) = [each for each in effects if isinstance(each, Verdict)]
    assert re.search(r"The water now: pH \d\.\d by a probe that is doubted, KH unknown", verdict.text)


def test_two_tests_by_hand_name_a_probe_that_shows_too_little() -> None:
    def low(at: int) -> float:
        return pond(at) - (0.6 if at > FAULT + DAY_MS else max(0.0, 0.6 * (at - FAULT) / DAY_MS))

    noon = FAULT + 36 * HOUR_MS
    found = told(13, {"ph": low}, hand_tests(noon, noon + 2 * DAY_MS))
    suspect = next(e for e in found if e.alarm == "probe-suspect")
    assert noon + 2 * DAY_MS <= suspect.at <= noon + 2 * DAY_MS + MINUTE_MS
    assert suspect.text.startswith("drifting from the hand test: it shows 0.")
    assert [e.alarm for e in found if e.at > suspect.at] == []
    assert "ph-low" in [e.alarm for e in told(13, {"ph": low}) if e.at > suspect.at]  # what would have woken


def test_a_probe_that_shows_too_much_hides_no_low_water() -> None:
    """The water is at 6.3, the probe says 7.2, two tests by hand agree with the water."""

    def high(at: int) -> float:
        return pond(at) + min(0.9, max(0.0, 0.45 * (at - FAULT) / DAY_MS))

    def water(at: int) -> float:
        return pond(at) - max(0.0, 0.25 * (at - FAULT) / DAY_MS)

    def shown(at: int) -> float:
        return water(at) + high(at) - pond(at)

    noon = FAULT + 60 * HOUR_MS
    tests = hand_tests(noon, noon + 24 * HOUR_MS, ph=water)
    assert "ph-low" not in [e.alarm for e in told(13, {"ph": shown})]
    found = told(13, {"ph": shown}, tests)
    assert [e.alarm for e in found if e.alarm != "night-slide"][:2] == ["probe-suspect", "ph-low"]


def test_calibrating_ends_the_accusation() -> None:
    noon = FAULT + 12 * HOUR_MS
    acts = [
        *hand_tests(noon, ph=lambda at: pond(at) + 1.0),
        Act("c", noon + HOUR_MS, "calibration", {"probe": "ph", "for": "20m"}),
    ]
    pipe = Pipeline(shipped(), POND, [("ph", "ph", None, None)])
    effects = [effect for event in events(9, {"ph": pond}, acts) for effect in pipe.step(event)]
    changes = [(e.alarm, e.change) for e in effects if isinstance(e, Transition)]
    assert changes[:1] == [("probe-suspect", "raised")]
    assert ("probe-suspect", "returned") in changes or ("probe-suspect", "released") in changes
    conditions = dict(pipe.watches["ph"].conditions(pipe.now, pipe.desk.deadbands))
    assert conditions["probe-suspect"] is Condition.CLEAR


def test_a_rise_from_one_reading_to_the_next_is_no_high_pond() -> None:
    """Five minutes apart nobody sees the shoulder of a step; a bloom would rise over hours."""

    def every_five_minutes(high: Callable[[int], float]) -> list[str]:
        pipe, found = Pipeline(shipped(), POND, [("ph", "ph", None, None)]), list[str]()
        for at in range(BEGIN, FAULT + 20 * HOUR_MS, 5 * MINUTE_MS):
            effects = pipe.step(Sample("ph", at, round(high(at), 2), at))
            found += [e.alarm for e in effects if isinstance(e, Transition) and e.change == "raised"]
        return found

    jumped = every_five_minutes(lambda at: pond(at) + (2.4 if at >= FAULT else 0.0))
    assert "probe-suspect" in jumped
    assert "ph-high" not in jumped
    morning = FAULT + 8 * HOUR_MS
    bloomed = every_five_minutes(lambda at: pond(at) + 2.4 * min(max((at - morning) / (8 * HOUR_MS), 0.0), 1.0))
    assert "ph-high" in bloomed
