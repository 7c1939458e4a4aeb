"""What memory holds while the card takes nothing: batches in their order, and what goes where there are too many rows.

Of each kind of row the oldest go. Letters go where a newer one of the same incident, person and address says all that
they said, and then the oldest that have arrived or were given up: the newest state of each incident stays, and so does
every open letter, of which each incident has one for an address and gives it up in time. Of many attempts at a letter
the last one stays, and of their outcomes. Acts stay: whoever asked waits for the verdict, and the inbox bounds them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any, Final

import structlog

from dawnline.store.batch import Batch

# Readings: 5.8 days of two probes at 10 s. The others are chosen beside that; what they take was not measured.
MOST: Final = {
    "readings": 100_000,
    "forecasts": 1_000,
    "transitions": 10_000,
    "moves": 10_000,
    "rain": 10_000,
    "days": 1_000,
    "storing": 1_000,
}
MOST_POST: Final = 3_000  # letters, attempts and outcomes together

_POST: Final = ("letters", "attempts", "outcomes")
_KINDS: Final = (*MOST, *_POST)
_PLAIN: Final = (*_POST, "acts")

_log = structlog.get_logger(__name__)


class Held:
    """`gone` counts the rows that memory had no room for, by kind, since the start; `gap` says whether any of them went
    since memory was last written.
    """

    def __init__(self) -> None:
        self.batches: list[Batch] = []
        self.count: Counter[str] = Counter()
        self.gone: Counter[str] = Counter()
        self.gap = False

    def add(self, batch: Batch) -> None:
        """Hold this after all that is held."""
        self._append(batch)
        self._bound()

    def begin_with(self, batch: Batch) -> None:
        """Hold this before all that is held."""
        self.batches.insert(0, batch)
        self._count()

    def clear(self) -> None:
        """All of it is written."""
        self.batches, self.gap = [], False
        self.count.clear()

    def _append(self, batch: Batch) -> None:
        self.count.update({name: len(getattr(batch, name)) for name in _KINDS})
        if self.batches and _plain(self.batches[-1]) and _plain(batch):
            batch = _joined(self.batches.pop(), batch)
        self.batches.append(batch)

    def _count(self) -> None:
        self.count = Counter({name: sum(len(getattr(each, name)) for each in self.batches) for name in _KINDS})

    def _bound(self) -> None:
        """Let go of what is too much."""
        for name, most in MOST.items():
            if self.count[name] > most:
                self._trim(name, self.count[name] - most)
        if sum(self.count[name] for name in _POST) > MOST_POST:
            self._sort_post()

    def _trim(self, name: str, surplus: int) -> None:
        """Let so many of the oldest rows of this kind go."""
        self._note(name, surplus)
        self.count[name] -= surplus
        for number, batch in enumerate(self.batches):
            rows = getattr(batch, name)
            going = min(surplus, len(rows))
            if going:
                changes: dict[str, Any] = {name: rows[going:]}
                self.batches[number] = replace(batch, **changes)
                surplus -= going
            if not surplus:
                return

    def _sort_post(self) -> None:
        """Keep of the letters what the outbox must know."""
        letters = [row for batch in self.batches for row in batch.letters]
        newest = {(row.episode, row.person, row.address): row.key for row in letters}
        gone = {row.key for row in letters if newest[row.episode, row.person, row.address] != row.key}
        ended = {each.key for batch in self.batches for each in batch.outcomes if each.outcome != "retry"}
        seen: set[tuple[str, str]] = set()  # attempts and outcomes that a later one takes the place of
        batches = [_last(batch, seen) for batch in reversed(self.batches)][::-1]
        surplus = sum(len(getattr(each, name)) for each in batches for name in _POST) - 3 * MOST_POST // 4
        for row in letters:
            if row.key not in gone and row.key in ended and surplus > 3 * len(gone):
                gone.add(row.key)  # with its attempt and its outcome
        self._note("letters", len(gone))
        self.batches = []
        for batch in batches:
            self._append(_without(batch, gone))
        self._count()

    def _note(self, name: str, number: int) -> None:
        if not number:
            return
        if not self.gone[name] or not self.gap:
            _log.error("memory-full", meanwhile=f"the oldest {name} are not kept", held=self.count[name])
        self.gone[name] += number
        self.gap = True


def _plain(batch: Batch) -> bool:
    """Whether it holds only what is added to a table, in whichever transaction."""
    return not any(getattr(batch, name) for name in _PLAIN)


def _joined(one: Batch, other: Batch) -> Batch:
    rows: dict[str, Any] = {name: [*getattr(one, name), *getattr(other, name)] for name in MOST}
    return replace(one, **rows)


def _last(batch: Batch, seen: set[tuple[str, str]]) -> Batch:
    """The batch without attempts and outcomes that were `seen` in later ones, which these are added to."""
    outcomes = {each.key: each for each in batch.outcomes if ("outcome", each.key) not in seen}
    attempts = [key for key in dict.fromkeys(batch.attempts) if ("attempt", key) not in seen]
    seen |= {("outcome", key) for key in outcomes} | {("attempt", key) for key in attempts}
    return replace(batch, outcomes=list(outcomes.values()), attempts=attempts)


def _without(batch: Batch, gone: set[str]) -> Batch:
    return replace(
        batch,
        letters=[row for row in batch.letters if row.key not in gone],
        attempts=[key for key in batch.attempts if key not in gone],
        outcomes=[each for each in batch.outcomes if each.key not in gone],
    )
