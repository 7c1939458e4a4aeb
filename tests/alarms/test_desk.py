"""Episodes: delays, deadbands, priorities, what people may do and what they are told."""

from __future__ import annotations

import json
from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.desk import Desk
from dawnline.alarms.settings import AlarmSettings
from dawnline.alarms.states import TABLE, IllegalMove, Move, State
from dawnline.catalogue_file import shipped
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.errors import InputError
from dawnline.event import Effect, Moved, Notice, Transition
from dawnline.outlook.finding import Condition, Finding

from .minutes import BETWEEN, CLEAR, KEY, MET, T0, UNKNOWN, changes, moves, raised, see


def test_the_on_delay_must_be_outlasted(desk: Desk) -> None:
    assert changes(see(desk, MET, range(10))) == []
    assert changes(see(desk, MET, [10])) == [("raised", 10)]
    assert changes(see(desk, MET, range(11, 60))) == []


def test_since_is_when_the_condition_began(desk: Desk) -> None:
    (raised,) = [e for e in see(desk, MET, range(11)) if isinstance(e, Transition)]
    assert raised.since == T0


@pytest.mark.parametrize("pause", [CLEAR, BETWEEN])
def test_a_pause_begins_the_on_delay_anew(desk: Desk, pause: Condition) -> None:
    see(desk, MET, range(9))
    see(desk, pause, [9])
    assert changes(see(desk, MET, range(10, 25))) == [("raised", 20)]


def test_not_evaluated_neither_begins_nor_ends(desk: Desk) -> None:
    see(desk, MET, range(5))
    assert changes(see(desk, UNKNOWN, range(5, 30))) == []
    assert changes(see(desk, MET, [30])) == [("raised", 30)]
    assert changes(see(desk, UNKNOWN, range(31, 300))) == []


def test_one_observation_held_for_long_raises_nothing(desk: Desk) -> None:
    effects: list[Effect] = []
    for minute in range(60):
        at = T0 + minute * MINUTE_MS
        effects += desk.see(Finding("ph-low", "ph", at, MET, 6.0, "", None, None, T0))
    assert effects == []


def test_it_returns_after_the_off_delay_beyond_the_deadband(desk: Desk) -> None:
    raised(desk)
    assert changes(see(desk, CLEAR, range(11, 41))) == []
    see(desk, BETWEEN, [41])  # back inside the deadband: the off-delay begins anew
    assert changes(see(desk, CLEAR, range(42, 80))) == [("returned", 72)]


def test_recurrence_is_a_new_episode(desk: Desk) -> None:
    first = raised(desk)
    see(desk, CLEAR, range(11, 50))
    again = [e for e in see(desk, MET, range(50, 65)) if isinstance(e, Transition)]
    assert [e.change for e in again] == ["raised"]
    assert again[0].id == first + 1


def test_a_rise_in_priority_escalates_the_same_episode_once(desk: Desk) -> None:
    see(desk, MET, range(121), "ph-high", "low")
    effects = see(desk, MET, range(121, 130), "ph-high", "medium") + see(desk, MET, range(130, 140), "ph-high", "low")
    assert changes(effects) == [("escalated", 121)]
    (transition,) = [e for e in effects if isinstance(e, Transition)]
    assert (transition.id, transition.priority) == (1, "medium")


def test_escalation_takes_back_the_acknowledgement(desk: Desk) -> None:
    see(desk, MET, range(121), "ph-high", "low")
    desk.acknowledge(1, T0 + 121 * MINUTE_MS, "ada")
    see(desk, MET, [122], "ph-high", "medium")
    assert desk.memory["ph-high", "ph"].state is State.UNACKNOWLEDGED


def test_acknowledging(desk: Desk) -> None:
    episode = raised(desk)
    effects = desk.acknowledge(episode, T0 + 12 * MINUTE_MS, "ada")
    assert changes(effects) == [("acknowledged", 12)]
    assert desk.memory[KEY].state is State.ACKNOWLEDGED
    with pytest.raises(IllegalMove, match="acknowledged"):
        desk.acknowledge(episode, T0 + 13 * MINUTE_MS, "ada")
    assert changes(see(desk, CLEAR, range(13, 50))) == [("returned", 43)]
    assert desk.memory == {}
    with pytest.raises(InputError, match="no open alarm 1"):
        desk.acknowledge(episode, T0, "ada")


def test_returned_and_then_acknowledged(desk: Desk) -> None:
    episode = raised(desk)
    see(desk, CLEAR, range(11, 45))
    assert desk.memory[KEY].state is State.RETURNED
    desk.acknowledge(episode, T0 + 60 * MINUTE_MS, "ada")
    assert desk.memory == {}


def in_state(desk: Desk, state: State) -> int:
    """An alarm brought into this state; its id."""
    episode = raised(desk)
    at, later = T0 + 11 * MINUTE_MS, T0 + 500 * MINUTE_MS
    if state is State.ACKNOWLEDGED:
        desk.acknowledge(episode, at, "ada")
    elif state is State.RETURNED:
        see(desk, CLEAR, range(11, 45))
    elif state is State.SHELVED:
        desk.shelve(episode, at, later, "ada")
    elif state is State.SUPPRESSED:
        desk.suppress([KEY], at, later, "ada")
    elif state is State.OUT_OF_SERVICE:
        desk.remove([KEY], at, later, "ada")
    assert desk.memory[KEY].state is state
    return episode


REAL = [state for state in State if state not in (State.NORMAL, State.BY_CONDITION)]


@pytest.mark.parametrize("state", REAL)
@pytest.mark.parametrize("what", ["acknowledge", "shelve", "unshelve"])
def test_an_act_in_every_state_moves_by_the_table_or_changes_nothing(desk: Desk, state: State, what: str) -> None:
    episode = in_state(desk, state)
    before, at = desk.save(), T0 + 60 * MINUTE_MS
    legal = Move(what) in TABLE[state] and (what != "unshelve" or state is State.SHELVED)
    more = (at + HOUR_MS,) if what == "shelve" else ()
    if not legal:
        with pytest.raises(IllegalMove, match=f"cannot {what}: the alarm is {state.value}"):
            getattr(desk, what)(episode, at, *more, "ada")
        assert desk.save() == before
        return
    effects = getattr(desk, what)(episode, at, *more, "ada")
    assert [e.change for e in effects if isinstance(e, Transition)] == [
        {"acknowledge": "acknowledged"}.get(what, what + "d")
    ]
    assert desk.save() != before


@pytest.mark.parametrize("state", REAL)
def test_no_act_can_name_an_episode_that_never_was(desk: Desk, state: State) -> None:
    in_state(desk, state)
    for call in (desk.acknowledge, desk.unshelve):
        with pytest.raises(InputError, match="no open alarm 99"):
            call(99, T0, "ada")


def test_the_most_urgent_alarm_stands_first_and_of_equals_the_oldest(desk: Desk) -> None:
    see(desk, MET, range(40), "wide-swing")
    see(desk, MET, range(1, 20), "probe-suspect")
    see(desk, MET, range(2, 20), "ph-low", "high")
    see(desk, MET, range(20), "ph-crash", "high")
    assert [alarm for alarm, _, _ in desk.active()] == ["ph-crash", "ph-low", "probe-suspect", "wide-swing"]


def test_the_keepers_priority_is_above_the_findings() -> None:
    desk = Desk(shipped(), ZoneInfo("UTC"), {"ph-high": AlarmSettings(priority="high")})
    effects = see(desk, MET, range(121), "ph-high", "low") + see(desk, MET, range(121, 130), "ph-high", "medium")
    assert [(e.change, e.priority) for e in effects if isinstance(e, Transition)] == [("raised", "high")]


def test_even_without_a_delay_a_second_observation_is_awaited() -> None:
    desk = Desk(shipped(), ZoneInfo("UTC"), {"ph-low": AlarmSettings(on_delay="0s")})
    assert changes(see(desk, MET, [0])) == []
    assert changes(see(desk, MET, [1])) == [("raised", 1)]


def test_what_is_told_and_what_is_not(desk: Desk) -> None:
    effects = see(desk, MET, range(11))
    notices = [e for e in effects if isinstance(e, Notice)]
    assert len(notices) == 1
    assert not [e for e in desk.acknowledge(1, T0 + 11 * MINUTE_MS, "ada") if isinstance(e, Notice)]
    over = [e for e in see(desk, CLEAR, range(12, 50)) if isinstance(e, Notice)]
    assert [e.change for e in over] == ["returned"]


def test_the_keepers_delays_take_effect() -> None:
    settings = {"ph-low": AlarmSettings.model_validate({"on_delay": "2m", "priority": "medium", "deadband": 0.3})}
    desk = Desk(shipped(), ZoneInfo("UTC"), settings)
    effects = see(desk, MET, range(5))
    assert changes(effects) == [("raised", 2)]
    assert [e.priority for e in effects if isinstance(e, Transition)] == ["medium"]
    assert desk.deadbands["ph-low"] == 0.3


def test_the_memory_survives_json(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 3 * HOUR_MS, "ada")
    see(desk, MET, range(5), "wide-swing")
    other = Desk(shipped(), ZoneInfo("Europe/Berlin"))
    other.restore(json.loads(json.dumps(desk.save())))
    assert other.save() == desk.save()
    assert changes(see(other, MET, range(12, 185))) == changes(see(desk, MET, range(12, 185)))


@pytest.mark.parametrize("name", shipped())
def test_every_alarm_says_what_to_do(name: str) -> None:
    alarm = shipped()[name]
    assert alarm.name == name
    assert len(alarm.steps) >= 2
    assert alarm.cautions
    assert alarm.meaning.endswith(".")
    assert alarm.sure


@pytest.mark.parametrize("name", ["ph-low", "ph-crash", "sudden-drop", "night-slide", "oxygen-low"])
def test_a_falling_night_begins_with_fish_and_air(name: str) -> None:
    look, air = shipped()[name].steps[:2]
    assert "gasping" in look
    assert air.startswith("Air first")


def test_every_move_is_journalled_with_who_and_why(desk: Desk) -> None:
    effects = see(desk, MET, range(11))
    effects += desk.acknowledge(1, T0 + 11 * MINUTE_MS, "ada", "I look")
    effects += desk.shelve(1, T0 + 12 * MINUTE_MS, T0 + 72 * MINUTE_MS, "ada", "new pump comes tomorrow")
    effects += see(desk, CLEAR, range(13, 50)) + see(desk, MET, range(50, 73)) + see(desk, CLEAR, range(73, 110))
    effects += desk.acknowledge(2, T0 + 111 * MINUTE_MS, "ben")
    unack, returned = "unacknowledged", "returned, unacknowledged"
    assert moves(effects) == [
        ("occur", "normal", unack, "", "evidence"),
        ("acknowledge", unack, "acknowledged", "ada", "I look"),
        ("shelve", "acknowledged", "shelved", "ada", "new pump comes tomorrow"),
        ("return", "shelved", "shelved", "", "evidence"),
        ("occur", "shelved", "shelved", "", "evidence"),
        ("unshelve", "shelved", unack, "", "its time is over"),
        ("return", unack, returned, "", "evidence"),
        ("acknowledge", returned, "normal", "ben", ""),
    ]
    journalled = [(e.at, e.episode) for e in effects if isinstance(e, Moved)]
    minutes = [((at - T0) // MINUTE_MS, episode) for at, episode in journalled]
    assert minutes == [(10, 1), (11, 1), (12, 1), (43, 1), (60, None), (72, 2), (103, 2), (111, 2)]


def test_what_nobody_is_told_of_is_journalled_all_the_same(desk: Desk) -> None:
    effects = desk.suppress([KEY], T0, T0 + 30 * MINUTE_MS, "ada", "cleaning") + see(desk, CLEAR, range(1, 31))
    assert moves(effects) == [
        ("suppress", "normal", "suppressed by design", "ada", "cleaning"),
        ("release", "suppressed by design", "normal", "", "its time is over"),
    ]
    assert changes(effects) == []
    assert {e.priority for e in effects if isinstance(e, Moved)} == {"high"}  # the alarm's own, where none runs
    assert desk.memory == {}


def test_a_memory_of_an_earlier_version_is_understood(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 3 * HOUR_MS, "ada", "why not")
    saved = json.loads(json.dumps(desk.save()))
    for _, _, memory in saved["memory"]:
        del memory["why"], memory["shelved_priority"]
    other = Desk(shipped(), ZoneInfo("Europe/Berlin"))
    other.restore(saved)
    assert other.memory[KEY].state is State.SHELVED
    assert other.memory[KEY].shelved_priority == "high"
