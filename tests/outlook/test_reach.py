from __future__ import annotations

import json
from typing import Any, Literal

from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, MINUTE_MS
from dawnline.event import Delivered, Notice, Tick, Transition
from dawnline.outlook.finding import Condition
from dawnline.outlook.reach import Reach
from dawnline.pipeline import Pipeline

from ..pond import POND

T0 = 1_780_000_020_000 - 1_780_000_020_000 % MINUTE_MS
ADA = "water/high/1/raised/1/Ada/https://example.org/secret-token"
BEA = "water/low/2/raised/1/Bea/mailto:bea@example.org"


def ended(key: str, minute: int, outcome: Literal["delivered", "retry", "dead"], text: str = "refused") -> Delivered:
    return Delivered(key, T0 + minute * MINUTE_MS, outcome, text)


def test_a_way_fails_until_something_arrives_on_it() -> None:
    reach = Reach()
    reach.take(ended(ADA, 0, "retry"))
    reach.take(ended(ADA, 1, "retry", "no answer"))
    reach.take(ended(BEA, 2, "delivered"))
    finding = reach.finding(T0 + 3 * MINUTE_MS)
    assert (finding.condition, finding.since, finding.evidence) == (Condition.MET, T0, "Ada: no answer")
    reach.take(ended(ADA.replace("raised", "returned"), 4, "delivered"))
    assert reach.finding(T0 + 5 * MINUTE_MS).condition is Condition.CLEAR


def test_a_way_not_tried_for_a_day_is_forgotten() -> None:
    reach = Reach()
    reach.take(ended(ADA, 0, "dead"))
    assert reach.finding(T0 + DAY_MS).condition is Condition.MET
    assert reach.finding(T0 + DAY_MS + 1).condition is Condition.CLEAR


def test_the_memory_holds_no_address_and_survives_json() -> None:
    reach, other = Reach(), Reach()
    reach.take(ended(ADA, 0, "retry"))
    saved = json.dumps(reach.save())
    assert "secret-token" not in saved
    other.restore(json.loads(saved))
    assert other.save() == reach.save()
    assert other.finding(T0) == reach.finding(T0)


def test_the_alarm_is_raised_after_a_minute_and_returns() -> None:
    pond = POND
    pipe = Pipeline(shipped(), pond, [("ph", "ph", None, None)])
    pipe.step(Tick(T0))
    effects: list[Any] = pipe.step(ended(ADA, 0, "dead"))
    for minute in range(1, 30):
        effects += pipe.step(ended(ADA, minute, "delivered") if minute == 5 else Tick(T0 + minute * MINUTE_MS))
    changes = [(e.change, e.probe, e.priority) for e in effects if isinstance(e, Transition)]
    assert changes == [("raised", None, "high"), ("returned", None, "high")]
    assert len([e for e in effects if isinstance(e, Notice)]) == 2


def test_what_is_not_urgent_fails_with_less_urgency() -> None:
    reach = Reach()
    reach.take(ended(BEA, 0, "retry"))
    assert reach.finding(T0).priority == "medium"
    reach.take(ended(BEA.replace("low", "high"), 1, "retry"))
    assert reach.finding(T0 + MINUTE_MS).priority == "high"
    reach.take(ended(BEA, 2, "delivered"))
    assert reach.finding(T0 + 2 * MINUTE_MS).condition is Condition.CLEAR


def test_it_knows_which_ways_fail() -> None:
    reach = Reach()
    reach.take(ended(BEA, 0, "retry"))
    assert reach.fails("Bea", "mailto:bea@example.org")
    assert not reach.fails("Ada", "mailto:bea@example.org")
