"""One event, few messages."""

from __future__ import annotations

import pytest

from dawnline.alarms.covered import COVERED_BY
from dawnline.alarms.desk import Desk
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Effect, Notice, Priority, Transition
from dawnline.outlook.finding import Condition, Finding

T0 = 1_780_000_020_000 - 1_780_000_020_000 % MINUTE_MS


def hold(
    desk: Desk, alarm: str, minutes: range, priority: Priority = "high", condition: Condition = Condition.MET
) -> list[Effect]:
    effects: list[Effect] = []
    for minute in minutes:
        at = T0 + minute * MINUTE_MS
        effects += desk.see(Finding(alarm, "ph", at, condition, 6.7, f"minute {minute}", priority, None, at))
    return effects


def changes(effects: list[Effect]) -> list[tuple[str, str]]:
    return [(e.alarm, e.change) for e in effects if isinstance(e, Transition)]


@pytest.mark.parametrize("first", ["sudden-drop", "ph-low", "ph-crash"])
def test_a_slide_is_not_told_where_the_fall_is(desk: Desk, first: str) -> None:
    hold(desk, first, range(15))
    assert hold(desk, "night-slide", range(15, 120)) == []


def test_a_drop_is_not_told_where_the_slide_is(desk: Desk) -> None:
    assert changes(hold(desk, "night-slide", range(15))) == [("night-slide", "raised")]
    assert hold(desk, "sudden-drop", range(15, 120)) == []


def test_a_limit_passed_is_always_told(desk: Desk) -> None:
    hold(desk, "night-slide", range(15))
    assert changes(hold(desk, "ph-low", range(15, 40))) == [("ph-low", "raised")]
    assert not {"ph-low", "ph-crash"} & set(COVERED_BY)


def test_a_slide_of_medium_priority_covers_no_drop(desk: Desk) -> None:
    hold(desk, "night-slide", range(15), "medium")
    assert changes(hold(desk, "sudden-drop", range(15, 30))) == [("sudden-drop", "raised")]


def test_a_slide_grows_more_urgent_within_its_episode(desk: Desk) -> None:
    told = hold(desk, "night-slide", range(15), "medium") + hold(desk, "night-slide", range(15, 60), "high")
    assert changes(told) == [("night-slide", "raised"), ("night-slide", "escalated")]
    assert len({e.episode for e in told if isinstance(e, Notice)}) == 1


def test_what_is_shelved_covers_nothing(desk: Desk) -> None:
    hold(desk, "night-slide", range(15))
    desk.shelve(1, T0 + 15 * MINUTE_MS, T0 + 10 * HOUR_MS, "ada")
    assert changes(hold(desk, "sudden-drop", range(16, 30))) == [("sudden-drop", "raised")]


def test_a_fall_told_and_over_covers_the_same_night_and_not_the_next(desk: Desk) -> None:
    hold(desk, "sudden-drop", range(15))
    assert changes(hold(desk, "sudden-drop", range(15, 90), condition=Condition.CLEAR)) == [("sudden-drop", "returned")]
    assert hold(desk, "night-slide", range(90, 180)) == []
    assert changes(hold(desk, "night-slide", range(24 * 60, 24 * 60 + 30))) == [("night-slide", "raised")]


def test_what_has_begun_says_how_it_is_while_covered(desk: Desk) -> None:
    hold(desk, "night-slide", range(15), "medium")
    hold(desk, "sudden-drop", range(15, 30))
    assert hold(desk, "night-slide", range(30, 60), "high") == []
    assert [(alarm, m.evidence, m.priority) for alarm, _, m in desk.active() if alarm == "night-slide"] == [
        ("night-slide", "minute 59", "medium")
    ]
