"""The post: which letters are open, which are out, and when each is tried again (machine time)."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import asdict, replace
from typing import Any

import structlog

from dawnline.delivery.letter import Letter
from dawnline.delivery.people import letters
from dawnline.delivery.worker import Worker
from dawnline.event import Delivered, Message
from dawnline.store.outbox import OutboxRow

_log = structlog.get_logger(__name__)


class Post:
    """Knows every open letter. The store decides what may be sent; the worker sends it."""

    def __init__(self, worker: Worker, waiting: Iterable[OutboxRow]) -> None:
        self.worker = worker
        self.in_flight: set[str] = set()
        self.dead = 0  # letters given up since the start
        self.failing: dict[str, str] = {}  # person -> why the last attempt failed, until one arrives
        self._open: dict[str, tuple[float, Letter]] = {}  # key -> when (monotonic), letter
        self._overtaken: set[str] = set()  # tried once more at most: a newer letter says more
        for row in waiting:
            letter = Letter(**{name: value for name, value in asdict(row).items() if name != "state"})
            self._overtaken.update(self._older(letter))
            self._open[letter.key] = (0.0, letter)

    def write(self, messages: Iterable[Message]) -> list[OutboxRow]:
        """The letters of these messages, opened here, as rows for the outbox."""
        rows = []
        for message in messages:
            for letter in letters(message):
                self._overtake(letter)
                self._open[letter.key] = (0.0, letter)
                rows.append(OutboxRow(**asdict(letter)))
        return rows

    def as_json(self) -> dict[str, Any]:
        """How the post is doing, for `status`."""
        return {"open": len(self._open), "dead_since_start": self.dead, "failing": self.failing}

    def due(self) -> list[str]:
        """Keys of the letters to be tried now."""
        now = time.monotonic()
        return [key for key, (when, _) in self._open.items() if when <= now and key not in self.in_flight]

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
        if key not in self._open:
            return
        _, letter = self._open[key]
        if delivered.outcome == "delivered":
            self.failing.pop(letter.person, None)
        else:
            self.failing[letter.person] = delivered.text
        if delivered.outcome == "retry" and key not in self._overtaken:
            delay = self.worker.next_delay(letter.attempts, key)
            self._open[key] = (time.monotonic() + delay, letter)
            _log.warning("notice-not-delivered", person=letter.person, again_in_s=round(delay), why=delivered.text)
            return
        self._drop(key)
        if delivered.outcome == "retry":
            _log.info("notice-superseded", person=letter.person, subject=letter.subject)
        elif delivered.outcome == "dead":
            self.dead += 1
            _log.error("notice-undeliverable", person=letter.person, why=delivered.text)
        else:
            _log.info("notice-delivered", person=letter.person, subject=letter.subject)

    def _overtake(self, newer: Letter) -> None:
        """As the store does: a newer letter of an episode takes the place of an open one to the same address.

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
