"""Whatever the delivery does, and wherever the process dies: every high alarm ends in a letter delivered, or given up.

The core's own order of things, turned by hand: fold, commit with the attempts, send, take the outcome.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dawnline.catalogue_file import shipped
from dawnline.delivery.worker import Trouble
from dawnline.duration import MINUTE_MS
from dawnline.event import Act, Delivered, Effect, Transition
from dawnline.letter import Letter
from dawnline.reading import Sample
from dawnline.service.pending import Pending
from dawnline.service.post import Post
from dawnline.service.resume import resume
from dawnline.settings import load
from dawnline.store.reader import Reader
from dawnline.store.store import Store

from ..configuration import POND, serial

CONFIG = (
    POND
    + serial("ph", "ph", "/dev/no-such-port")
    + """
[[people]]
name = "Ada"
addresses = ["console:", "https://example.org/ada"]
[[people]]
name = "Bo"
addresses = ["https://example.org/bo"]
priority = "high"
order = 2
after = "10m"
"""
)
T0 = 1_781_035_200_000  # 9 June 2026, 22:00 in Berlin
LEVELS = (7.2, 6.3, 6.3, 5.7)

steps = st.lists(
    st.one_of(
        st.tuples(st.just("water"), st.sampled_from(LEVELS), st.sampled_from((15, 40, 90))),
        st.tuples(st.just("outcome"), st.sampled_from(("delivered", "retry", "dead")), st.integers(1, 4)),
        st.tuples(st.sampled_from(("acknowledge", "shelve")), st.integers(1, 4)),
        st.tuples(st.sampled_from(("dies after the commit", "dies after the send", "dies before the commit"))),
    ),
    min_size=6,
    max_size=14,
)


class Lane:
    """A worker that keeps what it was given until told how that ended."""

    def __init__(self) -> None:
        self.letters: list[Letter] = []

    def submit(self, letter: Letter) -> None:
        self.letters.append(letter)

    def trouble(self, key: str) -> Trouble:
        return Trouble()


@dataclass
class House:
    """A service without its threads; `arrived` are the letters that people got, each with its number of attempts."""

    folder: Path
    at: int = T0
    ph: float = 7.2
    acts: int = 0
    machine_s: float = 0.0
    arrived: list[tuple[str, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        config = self.folder / "dawnline.toml"
        config.write_text(CONFIG, encoding="utf-8")
        self.settings = load(config)
        self.start()

    def start(self) -> None:
        self.store = Store.open(self.settings.store.path, [("ph", "ph")])
        self.pipeline = resume(self.settings, self.store)
        self.lane, self.pending = Lane(), Pending()
        self.post = Post(self.lane, self.store.waiting(), now=self.later)  # type: ignore[arg-type]

    def later(self) -> float:
        """Machine time in which every wait is over when it is looked at next."""
        self.machine_s += 3600.0
        return self.machine_s

    def die(self) -> None:
        self.store.close()
        self.start()

    def fold(self, event: Any) -> None:
        effects: list[Effect] = self.pipeline.step(event)
        self.pending.take(effects)
        if isinstance(event, Delivered):
            self.pending.outcomes.append(event)
            self.post.outcome(event)

    def commit(self, *, send: bool = True) -> None:
        pending, self.pending = self.pending, Pending()
        rows, tried = self.post.write(pending.messages), self.post.due()
        begun = self.store.commit(
            pending.batch(self.pipeline, letters=rows, in_flight=self.post.in_flight, attempts=tried)
        )
        self.pipeline.kept()
        if send:
            self.post.send(tried, begun)

    def take(self, step: tuple[Any, ...]) -> None:
        match step:
            case ("water", level, minutes):
                for _ in range(minutes):
                    self.at += MINUTE_MS
                    self.ph += max(-0.05, min(0.05, level - self.ph))  # faster than a pond, slower than a fault
                    self.fold(Sample("ph", self.at, round(self.ph, 3), self.at))
                    if self.pending.urgent:
                        self.commit()
                self.commit()
            case ("outcome", outcome, number):
                self.end_letters(outcome, number)
                self.commit()
            case ("dies after the commit",):
                self.commit(send=False)
                self.die()
            case ("dies after the send",):
                self.commit()
                self.arrived += [(letter.key, letter.attempts) for letter in self.lane.letters]
                self.die()
            case ("dies before the commit",):
                self.die()
            case (kind, episode):
                self.acts += 1
                body = {"id": episode} | ({"for": "30m"} if kind == "shelve" else {})
                self.fold(Act(f"act-{self.acts}", self.at, kind, body, "ada"))
                self.commit()

    def end_letters(self, outcome: Any, number: int) -> None:
        given, self.lane.letters = self.lane.letters[:number], self.lane.letters[number:]
        for letter in given:
            if outcome == "delivered":
                self.arrived.append((letter.key, letter.attempts))
            self.at += 1
            self.fold(Delivered(letter.key, self.at, outcome, "no route"))

    def settle(self) -> None:
        """The network is well again: everything that still waits is tried and arrives."""
        for _ in range(50):
            self.commit()
            if not self.lane.letters:
                return
            self.end_letters("delivered", 99)
        raise AssertionError("the post never comes to rest")


@settings(max_examples=20, suppress_health_check=list(HealthCheck))
@given(steps)
def test_every_high_alarm_ends_in_a_letter_delivered_or_given_up(story: list[tuple[Any, ...]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        house = House(Path(folder))
        for step in story:
            house.take(step)
        house.take(("water", 7.2, 1))
        house.settle()
        assert house.store.waiting() == []
        with Reader.open(house.settings.store.path) as reader:
            transitions = reader.transitions(0, 1 << 60)
            letters = reader.letters("delivered", "superseded", "dead", limit=10_000)
        house.store.close()
    high = [each for each in transitions if each.change == "raised" and each.priority == "high"]
    high = [each for each in high if each.alarm != "delivery-failing"]  # goes where a way is left, if any is
    for raised in high:
        assert ended(raised, letters), (raised, letters)
    keys = [letter.key for letter in letters]
    assert len(keys) == len(set(keys))
    # At least once; what comes a second time says so by its number of attempts.
    assert len(house.arrived) == len(set(house.arrived))


def ended(raised: Transition, letters: list[Any]) -> bool:
    """Whether somebody was written to of it, in a letter that ended for good."""
    title = shipped()[raised.alarm].title
    return any(each.state in ("delivered", "dead") and each.at >= raised.at and title in each.text for each in letters)
