"""Episodes: delays, deadbands, priorities, screens and what people are told."""

from __future__ import annotations

import json
from collections.abc import Iterable
from zoneinfo import ZoneInfo

import pytest

from dawnline.alarms.desk import Desk
from dawnline.alarms.settings import AlarmSettings
from dawnline.alarms.states import TABLE, IllegalMove, Move, State
from dawnline.catalogue_file import shipped
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.errors import InputError
from dawnline.event import Effect, Moved, Notice, Priority, Transition
from dawnline.outlook.finding import Condition, Finding

T0 = 1_780_000_020_000 - 1_780_000_020_000 % MINUTE_MS
KEY = ("ph-low", "ph")
MET, CLEAR, BETWEEN, UNKNOWN = Condition.MET, Condition.CLEAR, Condition.BETWEEN, Condition.UNKNOWN


@pytest.fixture
def desk() -> Desk:
    return Desk(shipped(), ZoneInfo("Europe/Berlin"))


def see(
    desk: Desk,
    condition: Condition,
    minutes: Iterable[int],
    alarm: str = "ph-low",
    priority: Priority | None = None,
) -> list[Effect]:
    """The condition at each of these minutes, each borne out by a new observation."""
    effects: list[Effect] = []
    for minute in minutes:
        at = T0 + minute * MINUTE_MS
        effects += desk.tick(at)
        effects += desk.see(Finding(alarm, "ph", at, condition, 6.4, "evidence", priority, None, at))
    return effects


def changes(effects: list[Effect]) -> list[tuple[str, int]]:
    return [(e.change, (e.at - T0) // MINUTE_MS) for e in effects if isinstance(e, Transition)]


def raised(desk: Desk) -> int:
    """An alarm raised at minute 10; its id."""
    found = [e for e in see(desk, MET, range(11)) if isinstance(e, Transition)]
    return found[0].id


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


def test_a_shelf_hides_and_ends_by_itself(desk: Desk) -> None:
    episode = raised(desk)
    assert changes(desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 71 * MINUTE_MS, "ada")) == [("shelved", 11)]
    assert changes(see(desk, MET, range(12, 75))) == [("unshelved", 71)]
    assert desk.memory[KEY].state is State.UNACKNOWLEDGED


def test_what_came_and_went_behind_the_shelf(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 200 * MINUTE_MS, "ada")
    assert changes(see(desk, CLEAR, range(12, 50))) == [("returned", 42)]
    assert changes(see(desk, MET, range(50, 199))) == []  # it recurs: no raised from behind a shelf
    assert changes(see(desk, MET, range(199, 203))) == [("unshelved", 200), ("raised", 200)]
    assert desk.memory[KEY].id == episode + 1


def test_an_episode_ends_once_however_often_it_comes_and_goes_behind_the_shelf(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 200 * MINUTE_MS, "ada")
    assert changes(see(desk, CLEAR, range(12, 50))) == [("returned", 42)]
    assert changes(see(desk, MET, range(50, 80))) == []
    assert changes(see(desk, CLEAR, range(80, 150))) == []
    assert changes(desk.tick(T0 + 200 * MINUTE_MS)) == [("unshelved", 200)]
    assert desk.memory == {}


def test_unshelving_by_hand_when_it_is_over(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 200 * MINUTE_MS, "ada")
    see(desk, CLEAR, range(12, 50))
    effects = desk.unshelve(episode, T0 + 60 * MINUTE_MS, "ada")
    assert changes(effects) == [("unshelved", 60)]
    assert not any(isinstance(e, Notice) for e in effects)
    assert desk.memory == {}


def test_only_a_shelved_alarm_can_be_unshelved(desk: Desk) -> None:
    episode = raised(desk)
    before = desk.save()
    with pytest.raises(IllegalMove):
        desk.unshelve(episode, T0, "ada")
    assert desk.save() == before


def test_out_of_service_and_not_shelved_there_is_nothing_to_unshelve(desk: Desk) -> None:
    episode = raised(desk)
    desk.remove([KEY], T0 + 11 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    before = desk.save()
    with pytest.raises(IllegalMove, match="not shelved"):
        desk.unshelve(episode, T0 + 12 * MINUTE_MS, "ada")
    assert desk.save() == before


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


def test_two_screens_that_end_in_the_same_minute(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    desk.suppress([KEY], T0 + 12 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    effects = desk.tick(T0 + 60 * MINUTE_MS)
    assert desk.memory[KEY].state is State.UNACKNOWLEDGED
    assert sum(isinstance(e, Notice) for e in effects) == 1


def test_what_was_pending_before_a_suppression_is_judged_afresh_after_it(desk: Desk) -> None:
    see(desk, MET, range(8))
    desk.suppress([KEY], T0 + 8 * MINUTE_MS, T0 + 30 * MINUTE_MS, "ada")
    assert changes(see(desk, MET, range(30, 45))) == [("raised", 40)]


def test_the_most_urgent_alarm_stands_first_and_of_equals_the_oldest(desk: Desk) -> None:
    see(desk, MET, range(40), "wide-swing")
    see(desk, MET, range(1, 20), "probe-suspect")
    see(desk, MET, range(2, 20), "ph-low", "high")
    see(desk, MET, range(20), "ph-crash", "high")
    assert [alarm for alarm, _, _ in desk.active()] == ["ph-crash", "ph-low", "probe-suspect", "wide-swing"]


def test_what_is_longer_suppressed_already_stays_so(desk: Desk) -> None:
    desk.suppress([KEY], T0, T0 + 100 * MINUTE_MS, "ada")
    desk.suppress([KEY], T0, T0 + 10 * MINUTE_MS, "ada")
    assert changes(see(desk, MET, range(1, 100))) == []


def test_the_keepers_priority_is_above_the_findings() -> None:
    desk = Desk(shipped(), ZoneInfo("UTC"), {"ph-high": AlarmSettings(priority="high")})
    effects = see(desk, MET, range(121), "ph-high", "low") + see(desk, MET, range(121, 130), "ph-high", "medium")
    assert [(e.change, e.priority) for e in effects if isinstance(e, Transition)] == [("raised", "high")]


def test_even_without_a_delay_a_second_observation_is_awaited() -> None:
    desk = Desk(shipped(), ZoneInfo("UTC"), {"ph-low": AlarmSettings(on_delay="0s")})
    assert changes(see(desk, MET, [0])) == []
    assert changes(see(desk, MET, [1])) == [("raised", 1)]


def test_suppressed_by_design_nothing_is_judged(desk: Desk) -> None:
    desk.suppress([KEY], T0, T0 + 30 * MINUTE_MS, "ada")
    assert changes(see(desk, MET, range(1, 30))) == []
    assert changes(see(desk, MET, range(30, 45))) == [("raised", 40)]  # judged afresh from minute 30 on


def test_an_episode_is_suppressed_and_released(desk: Desk) -> None:
    raised(desk)
    effects = desk.suppress([KEY], T0 + 11 * MINUTE_MS, T0 + 41 * MINUTE_MS, "ada")
    assert changes(effects) == [("suppressed", 11)]
    assert changes(see(desk, CLEAR, range(12, 41))) == []
    assert changes(see(desk, CLEAR, range(41, 80))) == [("released", 41), ("returned", 71)]


def test_out_of_service_outlives_a_shelf(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 20 * MINUTE_MS, "ada")
    desk.remove([KEY], T0 + 12 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    see(desk, MET, range(13, 30))
    assert desk.memory[KEY].state is State.OUT_OF_SERVICE
    assert changes(desk.give_back([KEY], T0 + 31 * MINUTE_MS, "ada")) == [("released", 31)]
    assert desk.memory[KEY].state is State.UNACKNOWLEDGED


def test_a_shelf_over_a_suppression_shows_the_suppression_again(desk: Desk) -> None:
    episode = raised(desk)
    desk.suppress([KEY], T0 + 11 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada")
    desk.shelve(episode, T0 + 12 * MINUTE_MS, T0 + 20 * MINUTE_MS, "ada")
    desk.tick(T0 + 20 * MINUTE_MS)
    assert desk.memory[KEY].state is State.SUPPRESSED


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


def moves(effects: list[Effect]) -> list[tuple[str, str, str, str, str]]:
    return [(e.move, e.before, e.after, e.actor, e.reason) for e in effects if isinstance(e, Moved)]


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


@pytest.mark.parametrize(("priority", "longest"), [("high", DAY_MS), ("medium", 7 * DAY_MS), ("low", 7 * DAY_MS)])
def test_a_shelf_has_a_longest_time(desk: Desk, priority: Priority, longest: int) -> None:
    see(desk, MET, range(11), priority=priority)
    before = desk.save()
    with pytest.raises(InputError, match=f"of {priority} priority can be shelved for [17] d at most"):
        desk.shelve(1, T0 + HOUR_MS, T0 + HOUR_MS + longest + 1, "ada")
    assert desk.save() == before
    desk.shelve(1, T0 + HOUR_MS, T0 + HOUR_MS + longest, "ada")
    assert changes(desk.tick(T0 + HOUR_MS + longest)) == [("unshelved", 60 + longest // MINUTE_MS)]


def test_what_becomes_more_urgent_comes_off_the_shelf(desk: Desk) -> None:
    see(desk, MET, range(121), "ph-high", "low")
    desk.shelve(1, T0 + 121 * MINUTE_MS, T0 + 500 * MINUTE_MS, "ada")
    effects = see(desk, MET, range(122, 130), "ph-high", "medium")
    assert changes(effects) == [("unshelved", 122), ("escalated", 122)]
    assert [e.change for e in effects if isinstance(e, Notice)] == ["escalated"]
    assert desk.memory["ph-high", "ph"].state is State.UNACKNOWLEDGED
    assert changes(see(desk, MET, range(130, 520), "ph-high", "medium")) == []  # the old shelf ends nothing any more


def test_what_recurs_behind_the_shelf_more_urgent_comes_off_it(desk: Desk) -> None:
    see(desk, MET, range(121), "ph-high", "low")
    desk.shelve(1, T0 + 121 * MINUTE_MS, T0 + 900 * MINUTE_MS, "ada")
    see(desk, CLEAR, range(122, 160), "ph-high")
    effects = see(desk, MET, range(160, 290), "ph-high", "medium")
    assert changes(effects) == [("unshelved", 280), ("raised", 280)]
    assert [(e.change, e.episode, e.priority) for e in effects if isinstance(e, Notice)] == [("raised", 2, "medium")]


def test_suppressed_behind_a_shelf_nothing_is_judged_either(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 200 * MINUTE_MS, "ada")
    desk.suppress([KEY], T0 + 12 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada", "cleaning")
    assert changes(see(desk, CLEAR, range(13, 100))) == []
    assert changes(see(desk, CLEAR, range(100, 140))) == [("returned", 130)]


def test_back_from_out_of_service_and_a_suppression_together(desk: Desk) -> None:
    raised(desk)
    desk.suppress([KEY], T0 + 11 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada")
    desk.remove([KEY], T0 + 12 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada")
    effects = desk.give_back([KEY], T0 + 20 * MINUTE_MS, "ada", "return")
    assert changes(effects) == [("released", 20)]
    assert [move[0] for move in moves(effects)] == ["release", "return to service"]
    assert desk.memory[KEY].state is State.UNACKNOWLEDGED


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
