"""How far the copy has come: a row's place in the order of arrival, and the small file that remembers it."""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, NamedTuple, Protocol

LOOK_BACK_S: Final = 60.0  # machine time: what a server may forget of what it has taken, when it dies
LONGEST_S: Final = 3600.0
_KEPT: Final = 100  # set-aside rows that are named; beyond that they are counted


class Place(NamedTuple):
    """A place in the order in which readings arrived; `n` counts values of one probe at one time. Unix ms."""

    received_at: int
    probe: str
    at: int
    n: int


START: Final = Place(-(1 << 62), "", 0, 0)


class Row(NamedTuple):
    """One reading on its way; `flag` after the QARTOD scheme."""

    place: Place
    quantity: str
    value: float
    flag: int


class Source(Protocol):
    """Where the readings are."""

    def arrived(self, after: Place, limit: int) -> list[Row]:
        """The next rows after a place, in order. Raises StoreError."""


class Trail:
    """Where the copy stands (`here`), and from where on a server may have forgotten (`safe`).

    A server that dies forgets its last seconds though it had confirmed them. So after a broken connection the copy
    goes back to where it stood a minute of machine time before. A connection that breaks again soon is owed: the copy
    goes back for all such breaks at once after one minute, two, four, up to an hour, so that it gets on over the
    poorest link.
    """

    def __init__(self, begin: Place) -> None:
        self.here = self._floor = begin  # the floor was confirmed a minute ago, and nothing broke since
        self._steps: deque[tuple[float, Place]] = deque()
        self._owed: Place | None = None
        self._back_s, self._window_s = float("-inf"), LOOK_BACK_S

    @property
    def safe(self) -> Place:
        """Nothing before here can have been forgotten."""
        return self._floor if self._owed is None else min(self._owed, self._floor)

    def confirmed(self, place: Place, now_s: float) -> None:
        """The server has taken everything up to here; `now_s` is machine time."""
        self.here = place
        if self._steps and now_s - self._steps[-1][0] < 1.0:
            self._steps[-1] = (self._steps[-1][0], place)
        else:
            self._steps.append((now_s, place))
        while self._steps and now_s - self._steps[0][0] >= LOOK_BACK_S + 1.0:
            self._floor = self._steps.popleft()[1]

    def broken(self, now_s: float) -> None:
        """The connection broke, or had to be made anew."""
        self._owed = self.safe
        self.settle(now_s)

    def settle(self, now_s: float) -> None:
        """Go back for what is owed, if it is time."""
        if now_s - self._back_s < self._window_s:
            return
        if self._owed is None:
            self._window_s = LOOK_BACK_S
            return
        soon = now_s - self._back_s < 2 * self._window_s
        self._window_s = min(2 * self._window_s, LONGEST_S) if soon else LOOK_BACK_S
        self.here = self._floor = self._owed
        self._owed, self._back_s = None, now_s
        self._steps.clear()


@dataclass(slots=True)
class Progress:
    """What outlasts the process: the safe place, counts, and the rows that the server would not have."""

    file: Path
    place: Place = START
    set_aside: list[dict[str, Any]] = field(default_factory=list)
    refused: int = 0

    @classmethod
    def load(cls, file: Path) -> Progress:
        """As it was saved; from the beginning where there is no such file or it cannot be read: twice is harmless."""
        progress = cls(file)
        try:
            said = json.loads(file.read_text(encoding="utf-8"))
            received_at, probe, at, n = said["place"]
            progress.place = Place(int(received_at), str(probe), int(at), int(n))
            progress.set_aside = [dict(each) for each in said["set_aside"]][-_KEPT:]
            progress.refused = int(said["refused"])
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return cls(file)
        return progress

    def keep_aside(self, rows: Iterable[Row], why: str) -> None:
        """These the server refuses for what they are; the others go on."""
        known = {(each["probe"], each["at"], each["value"]) for each in self.set_aside}
        for row in rows:
            if (row.place.probe, row.place.at, row.value) not in known:  # a second time after a broken connection
                self.refused += 1
                said = {"probe": row.place.probe, "at": row.place.at, "value": row.value, "why": why[:200]}
                self.set_aside.append(said)
        del self.set_aside[:-_KEPT]

    def save(self) -> None:
        """Replace the file as a whole. Raises OSError."""
        said = {"version": 1, "place": list(self.place), "refused": self.refused, "set_aside": self.set_aside}
        draft = self.file.with_name(self.file.name + ".tmp")
        draft.write_text(json.dumps(said), encoding="utf-8")
        draft.replace(self.file)


def progress_file(store: Path) -> Path:
    """The file beside a store that says how far its copy has come."""
    return store.with_name(store.name + ".forwarded.json")
