"""The post: which letters are open, which are out, and when each is tried again (machine time).

At one address one letter is out at a time (a report beside it), the urgent before the others and then the oldest first,
so that news comes in its order. Where an address cannot be reached all its letters wait; what was refused alone waits
alone.
"""

from __future__ import annotations

import random
import time
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

import structlog

from dawnline.delivery.backoff import JITTER, backoff, too_late
from dawnline.delivery.worker import Outcome, Trouble, Worker
from dawnline.event import PRIORITIES, Delivered, Message
from dawnline.letter import Letter, letters
from dawnline.store.outbox import SHOWN, GivenUp

_log = structlog.get_logger(__name__)


def ended(letter: Letter, outcome: Outcome, text: str, at: int) -> Delivered:
    """How an attempt ended at `at` [ms]; what is too old to be tried again is given up."""
    if outcome == "retry" and too_late(letter, at):
        return Delivered(letter.key, at, "dead", f"given up, too old by now; at last: {text}")
    return Delivered(letter.key, at, outcome, text)


@dataclass(slots=True)
class _Route:
    """One address: failures in a row, and when it may be tried again (monotonic)."""

    failures: int = 0
    at_s: float = 0.0


class Post:
    """Knows every open letter. The store decides what may be sent; the worker sends it."""

    def __init__(
        self,
        worker: Worker,
        waiting: Iterable[Letter],
        given_up: Iterable[GivenUp] = (),
        *,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self.worker = worker
        self.in_flight: set[str] = set()
        self.given_up = deque(given_up, maxlen=SHOWN)
        self.dead = 0  # letters given up since the start
        self._failing: dict[tuple[str, str], str] = {}  # person, address -> why the last attempt failed
        self._now = now
        self._open: dict[str, tuple[float, Letter]] = {}  # key -> when (monotonic), letter
        self._routes: dict[str, _Route] = {}
        self._overtaken: set[str] = set()  # tried once more at most: a newer letter says more
        for letter in waiting:
            self._overtaken.update(self._older(letter))
            self._open[letter.key] = (0.0, letter)

    def write(self, messages: Iterable[Message]) -> list[Letter]:
        """The letters of these messages, opened here, for the outbox."""
        written = []
        for message in messages:
            for letter in letters(message):
                self._overtake(letter)
                self._open[letter.key] = (0.0, letter)
                if letter.priority == "high":  # worth an attempt, whatever was the matter before
                    self._route(letter).at_s = 0.0
                written.append(letter)
        return written

    def letters(self) -> list[Letter]:
        """Every open letter as it stands, for an outbox that has none of them."""
        return [
            replace(letter, state="trying" if key in self.in_flight else "waiting")
            for key, (_, letter) in self._open.items()
        ]

    @property
    def failing(self) -> dict[str, str]:
        """Why the last attempt at a person failed, until one arrives on that way."""
        return {person: why for (person, _), why in self._failing.items()}

    def as_json(self) -> dict[str, Any]:
        """How the post is doing, for `status`."""
        return {
            "open": len(self._open),
            "dead_since_start": self.dead,
            "failing": self.failing,
            "given_up": [each._asdict() for each in self.given_up],
        }

    def due(self) -> list[str]:
        """Keys of the letters to be tried now: one for each lane at most."""
        if not self._open:
            return []
        now, found = self._now(), dict[str, Letter]()
        busy = {self._open[key][1].lane for key in self.in_flight if key in self._open}
        for when, letter in self._open.values():
            lane = letter.lane
            if when > now or lane in busy or self._route(letter).at_s > now:
                continue
            if lane not in found or _urgency(letter) > _urgency(found[lane]):
                found[lane] = letter
        return [letter.key for letter in found.values()]

    def send(self, tried: Iterable[str], begun: frozenset[str]) -> None:
        """Hand over the letters whose attempts are committed; those the store superseded are dropped."""
        for key in tried:
            if key not in begun:
                self._drop(key)
                continue
            when, letter = self._open[key]
            self._open[key] = (when, replace(letter, attempts=letter.attempts + 1))
            self.in_flight.add(key)
            self.worker.submit(letter)

    def outcome(self, delivered: Delivered) -> None:
        """An attempt has ended."""
        key = delivered.key
        self.in_flight.discard(key)
        trouble = self.worker.trouble(key)
        if key not in self._open:
            return
        _, letter = self._open[key]
        if delivered.outcome == "delivered":
            self._failing.pop((letter.person, letter.address), None)
            self._routes.pop(letter.address, None)
        else:
            self._failing[letter.person, letter.address] = delivered.text
        if delivered.outcome == "retry":
            self._wait(letter, delivered.text, trouble)
            return
        self._drop(key)
        if delivered.outcome == "dead":
            self.dead += 1
            self.given_up.append(GivenUp(delivered.at, letter.person, letter.priority, letter.subject, delivered.text))
            _log.error("notice-undeliverable", person=letter.person, why=delivered.text)
        else:
            _log.info("notice-delivered", person=letter.person, subject=letter.subject)

    def _wait(self, letter: Letter, why: str, trouble: Trouble) -> None:
        """A letter was not taken: it waits, and with it its address, unless it alone was refused."""
        overtaken = letter.key in self._overtaken
        if overtaken:
            self._drop(letter.key)
            _log.info("notice-superseded", person=letter.person, subject=letter.subject)
        if not trouble.letter_only:
            delay_s = self._close(letter, trouble.asked_s)
        elif overtaken:
            return
        else:
            delay_s = _spread(backoff(letter.attempts, trouble.asked_s, letter.priority))
            self._open[letter.key] = (self._now() + delay_s, letter)
        _log.warning("notice-not-delivered", person=letter.person, again_in_s=round(delay_s), why=why)

    def _close(self, letter: Letter, asked_s: float | None) -> float:
        """The address of a letter is not to be had: all for it wait, for the seconds returned."""
        route = self._route(letter)
        route.failures += 1
        waiting = [each for _, each in self._open.values() if each.address == letter.address]
        most = max((each.priority for each in (letter, *waiting)), key=PRIORITIES.index)
        delay_s = _spread(backoff(route.failures, asked_s, most))
        route.at_s = self._now() + delay_s
        return delay_s

    def _route(self, letter: Letter) -> _Route:
        return self._routes.setdefault(letter.address, _Route())

    def _overtake(self, newer: Letter) -> None:
        """As the store does: a newer letter of an incident takes the place of an open one to the same address.

        One whose attempt has begun may be arriving at this moment: it ends with that attempt.
        """
        for key in self._older(newer):
            if key in self.in_flight:
                self._overtaken.add(key)
            else:
                self._drop(key)

    def _older(self, newer: Letter) -> list[str]:
        """Keys of the other open letters of the same incident to the same person and address."""
        return [
            key
            for key, (_, letter) in self._open.items()
            if (letter.episode, letter.person, letter.address) == (newer.episode, newer.person, newer.address)
            and key != newer.key
        ]

    def _drop(self, key: str) -> None:
        self._open.pop(key, None)
        self._overtaken.discard(key)


def _urgency(letter: Letter) -> bool:
    return letter.priority == "high"


def _spread(delay_s: float) -> float:
    return delay_s * random.uniform(1 - JITTER, 1 + JITTER)  # noqa: S311 - spreads load, guards nothing
