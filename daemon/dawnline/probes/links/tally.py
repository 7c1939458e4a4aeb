"""What a link counts: written by its thread, read by the service."""

from __future__ import annotations

import threading
import time
from collections import Counter
from typing import Any

import structlog

from dawnline.probes.dialects.value import Refusal, Refused, shown
from dawnline.probes.links.link import LinkReport, State

MAX_UNKNOWN_NAMES = 20
ERROR_CHARACTERS = 240  # a path under /dev/serial/by-id is long, and the reason comes after it


class Tally:
    """Counts of one link. The first refusal of each class, each new name and each new error is logged."""

    def __init__(self, link: str) -> None:
        self._link = link
        self._log: Any = structlog.get_logger("dawnline.links").bind(link=link)
        self._lock = threading.Lock()
        self._state: State = "new"
        self._good = self._dropped = self._reconnects = self._refused_connections = 0
        self._bad: Counter[Refusal] = Counter()
        self._last_refused: dict[Refusal, str] = {}
        self._unknown: list[str] = []
        self._last_error: str | None = None
        self._heard_s: float | None = None
        self._silent: list[str] = []

    def heard(self) -> None:
        """Bytes came, whatever they say."""
        self._heard_s = time.monotonic()

    def good(self) -> None:
        """A line or message gave at least one value."""
        with self._lock:
            self._good += 1

    def dropped(self, number: int = 1) -> None:
        """So many found the queue full, or no pond that could take them."""
        with self._lock:
            self._dropped += number

    def refused(self, refused: Refused) -> None:
        """A line, message or value could not be used."""
        with self._lock:
            self._bad[refused.refusal] += 1
            self._last_refused[refused.refusal] = refused.text
            first = self._bad[refused.refusal] == 1
        if first:
            self._log.warning("refused", why=refused.refusal.value, text=refused.text, key=refused.key)

    def fault(self, error: Exception) -> None:
        """A bug of ours cost one line or message, and nothing else."""
        self.refused(Refused(Refusal.FAULT, shown(f"{type(error).__name__}: {error}")))

    def unknown(self, names: tuple[str, ...]) -> None:
        """Names that no probe claims: counted, and the first twenty of them kept and logged, once each."""
        for name in names:
            text = shown(name)
            with self._lock:
                self._bad[Refusal.UNKNOWN_NAME] += 1
                self._last_refused[Refusal.UNKNOWN_NAME] = text
                new = text not in self._unknown and len(self._unknown) < MAX_UNKNOWN_NAMES
                if new:
                    self._unknown.append(text)
            if new:
                self._log.warning("unknown-name", name=text)

    def asked(self, probe: str, *, answers: bool) -> None:
        """A probe was asked; logged where it begins to be silent, and where it ends."""
        with self._lock:
            if answers is (probe not in self._silent):
                return
            (self._silent.remove if answers else self._silent.append)(probe)
        self._log.warning("answers-again" if answers else "silent", probe=probe)

    def connected(self) -> None:
        """The port is open, the broker has taken us."""
        with self._lock:
            before, self._state = self._state, "connected"
        if before != "connected":
            self._log.info("connected")

    def lost(self, error: str) -> None:
        """The connection is gone; it counts as a reconnect to come."""
        with self._lock:
            if self._state == "connected":
                self._reconnects += 1
        self.trouble("waiting", error)

    def turned_away(self, error: str) -> None:
        """The other side is there and refuses us."""
        with self._lock:
            self._refused_connections += 1
        self.trouble("refused", error)

    def trouble(self, state: State, error: str) -> None:
        """Not connected, and why. The same reason again is not logged again."""
        text = shown(error, ERROR_CHARACTERS)
        with self._lock:
            new = (self._state, self._last_error) != (state, text)
            self._state, self._last_error = state, text
        if new:
            self._log.warning("not-connected", state=state, error=text)

    def stopped(self) -> None:
        """The link has ended, as asked."""
        with self._lock:
            self._state = "stopped"

    def report(self) -> LinkReport:
        """Everything counted so far."""
        with self._lock:
            return LinkReport(
                name=self._link,
                state=self._state,
                good=self._good,
                bad={refusal.value: count for refusal, count in self._bad.items()},
                last_refused={refusal.value: text for refusal, text in self._last_refused.items()},
                unknown_names=tuple(self._unknown),
                dropped=self._dropped,
                reconnects=self._reconnects,
                refused_connections=self._refused_connections,
                last_error=self._last_error,
                silent_s=None if self._heard_s is None else round(time.monotonic() - self._heard_s, 1),
                silent_probes=tuple(self._silent),
            )
