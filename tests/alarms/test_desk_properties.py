"""Whatever is found, done and forgotten: no alarm is lost, nothing said twice, every screen ends, all is journalled."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from dawnline.alarms.desk import LONGEST_SHELF_MS, Desk
from dawnline.alarms.ledger import Key
from dawnline.alarms.memory import SCREENS
from dawnline.alarms.states import TABLE, Move, State
from dawnline.catalogue_file import shipped
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.errors import InputError
from dawnline.event import PRIORITIES, Effect, Moved, Notice, Priority, Transition
from dawnline.outlook.finding import Condition, Finding

T0 = 1_780_000_020_000 - 1_780_000_020_000 % MINUTE_MS
# With and without delay, covered by another one, of the whole pond.
KEYS: tuple[Key, ...] = (("ph-low", "a"), ("ph-low", "b"), ("night-slide", "a"), ("no-data", "a"), ("ammonia", None))
LOW = KEYS[0]
CATALOGUE = shipped()
STATES = {state.value: state for state in State}
MOVES = {move.value: move for move in Move}
SHOWN = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)

MET, CLEAR = Condition.MET, Condition.CLEAR
# Times beside the delays there are (10, 30, 60 min), and conditions that stay for a while: else nothing ever begins.
minutes = st.sampled_from((1, 9, 10, 12, 31, 45, 65, 130))
lasting = st.sampled_from((5, 30, 61, 240, 26 * 60)).map(lambda number: number * MINUTE_MS)
episodes = st.integers(1, 6)
conditions = st.sampled_from((MET, MET, MET, CLEAR, CLEAR, Condition.BETWEEN, Condition.UNKNOWN))
some_keys = st.sets(st.sampled_from(KEYS), min_size=1)
found = st.tuples(st.just("find"), st.sampled_from(KEYS), conditions, st.sampled_from(PRIORITIES), minutes)
done = st.one_of(
    st.tuples(st.sampled_from(("acknowledge", "unshelve")), episodes),
    st.tuples(st.just("shelve"), episodes, lasting),
    st.tuples(st.sampled_from(("suppress", "remove")), some_keys, lasting),
    st.tuples(st.just("give back"), some_keys),
    st.tuples(st.just("restart")),
    st.tuples(st.just("pass"), minutes),
)
stories = st.lists(st.one_of(found, found, done), min_size=8, max_size=30)


@dataclass
class Watched:
    """A desk turned by the minute, with what it said; `met` counts for how many minutes a condition held in sight."""

    restarts: bool = True
    at: int = T0
    effects: list[Effect] = field(default_factory=list)
    found: dict[Key, tuple[Condition, Priority]] = field(default_factory=dict)
    met: Counter[Key] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.desk = Desk(CATALOGUE, ZoneInfo("Europe/Berlin"))

    def take(self, step: tuple[Any, ...]) -> None:
        match step:
            case ("find", key, condition, priority, number):
                self.found[key] = (condition, priority)
                self.take(("pass", number))
            case ("pass", number):
                for _ in range(number):
                    self.minute()
            case ("restart",):
                if self.restarts:
                    saved = json.dumps(self.desk.save())
                    self.desk = Desk(CATALOGUE, ZoneInfo("Europe/Berlin"))
                    self.desk.restore(json.loads(saved))
                    assert json.dumps(self.desk.save()) == saved
            case _:
                self.at += 1  # no two events of a pond have the same stamp
                before = json.dumps(self.desk.save())
                try:
                    self.effects += self.act(*step)
                except InputError:
                    assert json.dumps(self.desk.save()) == before, step

    def act(self, what: str, whom: Any, lasting: int = 0) -> list[Effect]:
        match what:
            case "acknowledge" | "unshelve":
                return list(getattr(self.desk, what)(whom, self.at, "ada"))
            case "shelve":
                return self.desk.shelve(whom, self.at, self.at + lasting, "ada", "why not")
        for key in whom:
            self.met[key] = 0  # what is pending is judged afresh
        if what == "give back":
            return self.desk.give_back(sorted(whom, key=str), self.at, "ada", "return")
        return list(getattr(self.desk, what)(sorted(whom, key=str), self.at, self.at + lasting, "ada", "cleaning"))

    def minute(self) -> None:
        self.at += MINUTE_MS - self.at % MINUTE_MS
        self.effects += self.desk.tick(self.at)
        for key, (condition, priority) in self.found.items():
            memory = self.desk.memory.get(key)
            hidden = memory is not None and memory.screen is not None
            holds = condition is Condition.MET or (condition is Condition.UNKNOWN and self.met[key] > 0)
            self.met[key] = self.met[key] + 1 if holds and not hidden else 0
            self.effects += self.desk.see(
                Finding(key[0], key[1], self.at, condition, 6.4, "e", priority, None, self.at)
            )
        self.nothing_is_lost()

    def nothing_is_lost(self) -> None:
        """What has held in sight for its on-delay is shown, and no screen has outlived its time."""
        for key, (condition, priority) in self.found.items():
            enough = self.met[key] * MINUTE_MS > self.desk.kinds[key[0]].on_delay + MINUTE_MS
            if condition is Condition.MET and enough and key[0] != "night-slide":
                memory = self.desk.memory[key]
                assert memory.state in SHOWN, key
                assert PRIORITIES.index(memory.priority) >= PRIORITIES.index(priority)
        begun = {effect.id for effect in self.effects if isinstance(effect, Transition) and effect.change == "raised"}
        for memory in self.desk.memory.values():
            assert memory.ended or memory.id in begun
            for screen, until in SCREENS:
                assert getattr(memory, until) == 0 or getattr(memory, until) > self.at
                assert memory.state is not screen or getattr(memory, until) > self.at
            assert memory.shelved_until <= self.at + max(LONGEST_SHELF_MS.values())


def told(story: list[tuple[Any, ...]], *, restarts: bool = True) -> Watched:
    watched = Watched(restarts)
    for step in story:
        watched.take(step)
    return watched


def the_journal_is_whole(watched: Watched) -> None:
    """From normal on each move is one of the table, and begins where the one before it ended."""
    state: dict[Key, State] = {}
    for move in [each for each in watched.effects if isinstance(each, Moved)]:
        key = (move.alarm, move.probe)
        before, after = STATES[move.before], STATES[move.after]
        assert before is state.get(key, State.NORMAL), move
        to = TABLE[before][MOVES[move.move]]
        hidden = (State.SHELVED, State.SUPPRESSED)
        assert after is to or (to is State.BY_CONDITION and after in (State.NORMAL, State.UNACKNOWLEDGED, *hidden)), (
            move
        )
        assert move.reason or move.actor, move
        state[key] = after
    for key in KEYS:
        memory = watched.desk.memory.get(key)
        assert state.get(key, State.NORMAL) is (State.NORMAL if memory is None else memory.state), key


def each_episode_is_told_in_order(watched: Watched) -> None:
    """Raised once, never more urgent than said, over once; one notice a change at most."""
    seen: dict[int, list[Transition]] = {}
    for effect in watched.effects:
        if isinstance(effect, Transition):
            seen.setdefault(effect.id, []).append(effect)
    for changes in seen.values():
        names = [each.change for each in changes]
        assert names[0] == "raised", changes
        assert names.count("raised") == 1
        assert names.count("returned") <= 1
        ranks = [PRIORITIES.index(each.priority) for each in changes if each.change in ("raised", "escalated")]
        assert ranks == sorted(set(ranks)), changes
    assert list(seen) == sorted(seen)
    notices = [each for each in watched.effects if isinstance(each, Notice)]
    twice = Counter((each.episode, each.change, each.at) for each in notices)
    assert all(count == 1 for count in twice.values())
    raised = {number for number, changes in seen.items() if changes[0].change == "raised"}
    assert raised == {each.episode for each in notices if each.change == "raised"}


@settings(max_examples=100, suppress_health_check=list(HealthCheck))
@given(stories)
@example([("find", LOW, MET, "low", 12), ("find", LOW, CLEAR, "low", 45), ("find", LOW, MET, "high", 12)] * 2)
@example(
    [
        ("find", LOW, MET, "low", 12),
        ("shelve", 1, 240 * MINUTE_MS),
        ("find", LOW, CLEAR, "low", 45),
        ("find", LOW, MET, "low", 65),
        ("restart",),
        ("pass", 130),
        ("pass", 130),
    ]
)  # it recurs behind the shelf and is still there when that ends
def test_whatever_happens(story: list[tuple[Any, ...]]) -> None:
    watched = told(story)
    the_journal_is_whole(watched)
    each_episode_is_told_in_order(watched)


@settings(max_examples=50, suppress_health_check=list(HealthCheck))
@given(stories)
def test_restarts_change_nothing(story: list[tuple[Any, ...]]) -> None:
    assert told(story).effects == told(story, restarts=False).effects


@settings(max_examples=50, suppress_health_check=list(HealthCheck))
@given(stories)
def test_in_the_end_every_screen_is_gone_and_what_stands_is_shown(story: list[tuple[Any, ...]]) -> None:
    watched = told(story)
    for key in KEYS:
        watched.found[key] = (Condition.MET, "high")
    watched.effects += watched.desk.tick(watched.at + 27 * HOUR_MS)  # the longest shelf and suppression of the story
    watched.at += 27 * HOUR_MS
    watched.take(("pass", 30))
    for key, memory in watched.desk.memory.items():
        assert memory.screen is None, key
    for key in KEYS:
        if key[0] != "night-slide":  # covered by the low pH: what has been said is not said again
            assert watched.desk.memory[key].state in SHOWN, key
    the_journal_is_whole(watched)
    each_episode_is_told_in_order(watched)
