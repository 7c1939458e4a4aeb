"""What the one writer of a store and its readers are asked alike."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Concatenate, ParamSpec, TypeVar

from dawnline.event import Act
from dawnline.store import outbox, provisional, record, state
from dawnline.store.failure import explained

P = ParamSpec("P")
T = TypeVar("T")


class Questions:
    """Each method raises StoreError naming file and remedy. Times are Unix ms."""

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db

    def _ask(self, question: Callable[Concatenate[sqlite3.Connection, P], T], *args: P.args, **kwargs: P.kwargs) -> T:
        """The answer to a question that gives all of it at once."""
        with explained(self.path):
            return question(self._db, *args, **kwargs)

    def stretch(self) -> provisional.Stretch | None:
        """The stretch of provisional time that waits to be dated; None where all is dated."""
        return self._ask(provisional.get_stretch)

    def cursor(self) -> int | None:
        """The pond time up to which the service has committed; None in a new store."""
        found: int | None = self._ask(state.get, state.CURSOR)
        return found

    def alarm_memory(self) -> str | None:
        """The memory of the alarms as last committed."""
        found: str | None = self._ask(state.get, state.ALARM_MEMORY)
        return found

    def clock_set(self) -> str | None:
        """The last boot whose clock was known to be set."""
        found: str | None = self._ask(state.get, state.CLOCK_SET)
        return found

    def checkpoint(self) -> state.StoredCheckpoint | None:
        """The pipeline's memory as last committed; None where there is none, or none that can be unpacked."""
        return self._ask(state.get_checkpoint)

    def given_up(self, since: int, limit: int) -> list[outbox.GivenUp]:
        """The last `limit` letters given up after `since`, oldest first."""
        return self._ask(outbox.given_up, since, limit)

    def act_verdict(self, act_id: str) -> tuple[bool, str] | None:
        """Whether this act was accepted, and the answer; None for one that is not in the store."""
        return self._ask(record.select_verdict, act_id)

    def accepted_acts(self, until: int, kinds: Sequence[str]) -> list[Act]:
        """Acts of these kinds that were accepted and that the pipeline saw up to `until`, in order."""
        return self._ask(record.accepted_acts, until, kinds)
