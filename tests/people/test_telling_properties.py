"""Whatever happens: every high alarm is told at once, nothing twice, nobody below their priority; a restart changes
nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.errors import InputError
from dawnline.event import Delivered, Message, Transition
from dawnline.outlook.finding import Condition, Finding
from dawnline.people.person import RANK, Person

from .conftest import House, minute

PEOPLE = (
    Person("Ada", ("console:",), morning=7 * 60 + 30),
    Person("Bo", ("mailto:bo@example.org", "console:"), priority="medium", order=2),
    Person("Cy", ("https://example.org/cy",), priority="high", order=3, quiet=None, card=True),
)
ALARMS = ("ph-low", "ph-crash", "night-slide", "no-data", "wide-swing", "buffer-running-out")

steps = st.lists(
    st.one_of(
        st.tuples(st.just("on"), st.sampled_from(ALARMS), st.sampled_from(("low", "medium", "high"))),
        st.tuples(st.just("off"), st.sampled_from(ALARMS)),
        st.tuples(st.just("pass"), st.integers(1, 300)),
        st.tuples(st.sampled_from(("acknowledge", "shelve", "unshelve")), st.integers(1, 8)),
        st.tuples(st.just("ended"), st.sampled_from(("retry", "delivered", "dead"))),
        st.tuples(st.just("restart")),
    ),
    min_size=3,
    max_size=18,
)


class Turned(House):
    """A house whose steps are drawn; `raised` are the high alarms that began, with their minute."""

    def __post_init__(self) -> None:
        super().__post_init__()
        self.raised: list[Transition] = []

    def take(self, step: tuple[Any, ...], *, restarts: bool) -> None:
        match step:
            case ("on", alarm, priority):
                self.on[(alarm, "ph")] = priority
            case ("off", alarm):
                self.on.pop((alarm, "ph"), None)
            case ("pass", minutes):
                self.turn(minutes)
            case ("ended", outcome):
                for message in self.messages[-2:]:
                    for address in message.addresses:
                        self.reach.take(Delivered(f"{message.key}/{address}", self.at, outcome, "no route"))
            case ("restart",) if restarts:
                self.restart()
            case (move, episode):
                try:
                    self.act(move, episode, lasting=3 * HOUR_MS)
                except InputError:
                    return

    def turn(self, minutes: int) -> None:
        for _ in range(minutes):
            self.at += MINUTE_MS
            self.known |= set(self.on)
            effects: list[Any] = self.desk.tick(self.at)
            for alarm, probe in sorted(self.known, key=str):
                met = Condition.MET if (alarm, probe) in self.on else Condition.CLEAR
                effects += self.desk.see(Finding(alarm, probe, self.at, met, 6.4, "e", self.on.get((alarm, probe))))
            if self.reach.ways or ("delivery-failing", None) in self.desk.memory:
                effects += self.desk.see(self.reach.finding(self.at))
            self.raised += [
                e for e in effects if isinstance(e, Transition) and e.change == "raised" and e.priority == "high"
            ]
            self.telling.take(effects)
            self.messages += self.telling.decide(self.at)

    def restart(self) -> None:
        saved = [json.loads(json.dumps(part.save())) for part in (self.desk, self.reach, self.telling)]
        new = House(self.people, self.at)
        for part, data in zip((new.desk, new.reach, new.telling), saved, strict=True):
            part.restore(data)
        assert json.dumps(new.telling.save()) == json.dumps(saved[2])
        self.desk, self.reach, self.telling = new.desk, new.reach, new.telling


def turned(sequence: list[tuple[Any, ...]], *, restarts: bool) -> Turned:
    home = Turned(list(PEOPLE), 1_781_035_200_000)
    for step in sequence:
        home.take(step, restarts=restarts)
    home.turn(30)
    return home


def essence(messages: list[Message]) -> list[tuple[str, str, str, str]]:
    return [(minute(each), each.key, each.subject, each.text) for each in messages]


@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(steps)
def test_whatever_happens(sequence: list[tuple[Any, ...]]) -> None:
    home = turned(sequence, restarts=True)
    keys = [message.key for message in home.messages]
    assert len(keys) == len(set(keys))
    people = {person.name: person for person in PEOPLE}
    first: dict[tuple[str, str], bool] = {}
    for message in home.messages:
        assert message.opens == first.setdefault((message.thread, message.person), True) or message.incident < 0
        first[message.thread, message.person] = False
        if message.why in ("raised", "repeat", "unanswered", "unreachable", "again"):
            assert RANK[message.priority] >= RANK[people[message.person].priority]
    for raised in home.raised:
        if raised.alarm == "buffer-running-out" or raised.alarm == "delivery-failing":
            continue
        told = [message for message in home.messages if message.at == raised.at and message.priority == "high"]
        flood = [message for message in home.messages if 0 <= raised.at - message.at <= HOUR_MS]
        assert told or len(flood) >= 4, raised


@settings(max_examples=25, suppress_health_check=list(HealthCheck))
@given(steps)
def test_restarts_change_nothing(sequence: list[tuple[Any, ...]]) -> None:
    once, again = turned(sequence, restarts=False), turned(sequence, restarts=True)
    assert essence(once.messages) == essence(again.messages)


def test_a_clock_that_becomes_known_moves_what_was_told(house: Callable[..., House]) -> None:
    home = house(replace(PEOPLE[0], morning=None), begins="23:00")
    home.on |= {("ph-low", "ph"): "high", ("wide-swing", "ph"): "low"}
    home.run("23:50")
    before = home.telling.save()
    home.telling.shift(0, 90 * MINUTE_MS)
    after = home.telling.save()
    for old, new in zip(before["incidents"], after["incidents"], strict=True):
        assert new["opened_at"] == old["opened_at"] + 90 * MINUTE_MS
        assert new["thread"] == old["thread"]
        assert [line[0] for line in new["course"]] == [line[0] + 90 * MINUTE_MS for line in old["course"]]
