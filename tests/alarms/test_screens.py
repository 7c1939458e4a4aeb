"""What hides an alarm: a shelf, a suppression, out of service; how each ends, and what happened behind it."""

from __future__ import annotations

import pytest

from dawnline.alarms.desk import Desk
from dawnline.alarms.states import IllegalMove, State
from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.errors import InputError
from dawnline.event import Notice, Priority

from .minutes import CLEAR, KEY, MET, T0, changes, moves, raised, see


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


def test_out_of_service_and_not_shelved_there_is_nothing_to_unshelve(desk: Desk) -> None:
    episode = raised(desk)
    desk.remove([KEY], T0 + 11 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    before = desk.save()
    with pytest.raises(IllegalMove, match="not shelved"):
        desk.unshelve(episode, T0 + 12 * MINUTE_MS, "ada")
    assert desk.save() == before


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


def test_suppressed_by_design_nothing_is_judged(desk: Desk) -> None:
    desk.suppress([KEY], T0, T0 + 30 * MINUTE_MS, "ada")
    assert changes(see(desk, MET, range(1, 30))) == []
    assert changes(see(desk, MET, range(30, 45))) == [("raised", 40)]  # judged afresh from minute 30 on


def test_what_was_pending_before_a_suppression_is_judged_afresh_after_it(desk: Desk) -> None:
    see(desk, MET, range(8))
    desk.suppress([KEY], T0 + 8 * MINUTE_MS, T0 + 30 * MINUTE_MS, "ada")
    assert changes(see(desk, MET, range(30, 45))) == [("raised", 40)]


def test_what_is_longer_suppressed_already_stays_so(desk: Desk) -> None:
    desk.suppress([KEY], T0, T0 + 100 * MINUTE_MS, "ada")
    desk.suppress([KEY], T0, T0 + 10 * MINUTE_MS, "ada")
    assert changes(see(desk, MET, range(1, 100))) == []


def test_an_episode_is_suppressed_and_released(desk: Desk) -> None:
    raised(desk)
    effects = desk.suppress([KEY], T0 + 11 * MINUTE_MS, T0 + 41 * MINUTE_MS, "ada")
    assert changes(effects) == [("suppressed", 11)]
    assert changes(see(desk, CLEAR, range(12, 41))) == []
    assert changes(see(desk, CLEAR, range(41, 80))) == [("released", 41), ("returned", 71)]


def test_suppressed_behind_a_shelf_nothing_is_judged_either(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 200 * MINUTE_MS, "ada")
    desk.suppress([KEY], T0 + 12 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada", "cleaning")
    assert changes(see(desk, CLEAR, range(13, 100))) == []
    assert changes(see(desk, CLEAR, range(100, 140))) == [("returned", 130)]


def test_a_shelf_over_a_suppression_shows_the_suppression_again(desk: Desk) -> None:
    episode = raised(desk)
    desk.suppress([KEY], T0 + 11 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada")
    desk.shelve(episode, T0 + 12 * MINUTE_MS, T0 + 20 * MINUTE_MS, "ada")
    desk.tick(T0 + 20 * MINUTE_MS)
    assert desk.memory[KEY].state is State.SUPPRESSED


def test_out_of_service_outlives_a_shelf(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 20 * MINUTE_MS, "ada")
    desk.remove([KEY], T0 + 12 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    see(desk, MET, range(13, 30))
    assert desk.memory[KEY].state is State.OUT_OF_SERVICE
    assert changes(desk.give_back([KEY], T0 + 31 * MINUTE_MS, "ada")) == [("released", 31)]
    assert desk.memory[KEY].state is State.UNACKNOWLEDGED


def test_two_screens_that_end_in_the_same_minute(desk: Desk) -> None:
    episode = raised(desk)
    desk.shelve(episode, T0 + 11 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    desk.suppress([KEY], T0 + 12 * MINUTE_MS, T0 + 60 * MINUTE_MS, "ada")
    effects = desk.tick(T0 + 60 * MINUTE_MS)
    assert desk.memory[KEY].state is State.UNACKNOWLEDGED
    assert sum(isinstance(e, Notice) for e in effects) == 1


def test_back_from_out_of_service_and_a_suppression_together(desk: Desk) -> None:
    raised(desk)
    desk.suppress([KEY], T0 + 11 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada")
    desk.remove([KEY], T0 + 12 * MINUTE_MS, T0 + 100 * MINUTE_MS, "ada")
    effects = desk.give_back([KEY], T0 + 20 * MINUTE_MS, "ada", "return")
    assert changes(effects) == [("released", 20)]
    assert [move[0] for move in moves(effects)] == ["release", "return to service"]
    assert desk.memory[KEY].state is State.UNACKNOWLEDGED
