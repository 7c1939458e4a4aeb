"""The outbox: letters to be sent, the attempts begun, and how each ended."""

# ruff: noqa: S608 - what is put into the text of a statement is a constant of this file

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator
from typing import Any, Final, NamedTuple

from dawnline.duration import DAY_MS
from dawnline.event import Delivered, Priority
from dawnline.letter import Letter, LetterState

_COLUMNS = "key, at, episode, person, address, priority, subject, text, attempts, thread, opens, asks, state"
_OPEN = "state IN ('waiting', 'trying')"  # to the letter the condition of the index outbox_open
_TRY_AGAIN = f"""
    UPDATE outbox SET state = iif(EXISTS (
        SELECT 1 FROM outbox AS newer
        WHERE newer.seq > outbox.seq AND newer.episode = outbox.episode AND newer.address = outbox.address
            AND newer.person = outbox.person
    ), 'superseded', 'waiting') WHERE key = ? AND {_OPEN}"""


def add_letters(db: sqlite3.Connection, letters: Iterable[Letter], in_flight: Collection[str]) -> None:
    """Put letters in; a key already there changes nothing.

    A new letter supersedes the open ones of the same episode, person and address, except those `in_flight`, which may
    be arriving at this moment.
    """
    for row in letters:
        added = db.execute(
            f"INSERT INTO outbox ({_COLUMNS}) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?) ON CONFLICT (key) DO NOTHING",
            (row.key, row.at, row.episode, row.person, row.address, row.priority, row.subject, row.text,
             row.attempts, row.thread, row.opens, json.dumps(row.asks), row.state),
        ).rowcount  # fmt: skip
        if added:
            older = db.execute(
                f"SELECT key FROM outbox WHERE episode = ? AND address = ? AND person = ? AND {_OPEN} AND key <> ?",
                (row.episode, row.address, row.person, row.key),
            ).fetchall()
            db.executemany(
                "UPDATE outbox SET state = 'superseded' WHERE key = ?",
                [(key,) for (key,) in older if key not in in_flight],
            )


def begin_attempts(db: sqlite3.Connection, keys: Iterable[str]) -> frozenset[str]:
    """Record that an attempt begins; the keys returned may be sent once this is committed, the others not.

    A letter that has ended, or was superseded in this very transaction, is not among them.
    """
    begun = f"UPDATE outbox SET state = 'trying', attempts = attempts + 1 WHERE key = ? AND {_OPEN}"
    return frozenset(key for key in keys if db.execute(begun, (key,)).rowcount)


def record_outcomes(db: sqlite3.Connection, outcomes: Iterable[Delivered]) -> None:
    """Record how attempts ended.

    A letter that did arrive is delivered whatever was thought of it before; "retry" and "dead" change open
    letters only. One to be tried again waits, unless a newer letter of its episode to its address was written
    while it was in flight: then it is superseded, or the older news would come after the newer.
    """
    for outcome in outcomes:
        if outcome.outcome == "retry":
            db.execute(_TRY_AGAIN, (outcome.key,))
        else:
            db.execute(
                f"UPDATE outbox SET state = ? WHERE key = ? AND (? = 'delivered' OR {_OPEN})",
                (outcome.outcome, outcome.key, outcome.outcome),
            )
        db.execute(
            "INSERT INTO outcomes (key, at, outcome, text) VALUES (?,?,?,?)",
            (outcome.key, outcome.at, outcome.outcome, outcome.text),
        )


def open_letters(db: sqlite3.Connection) -> list[Letter]:
    """The letters still to be delivered, oldest first."""
    return _rows(db.execute(f"SELECT {_COLUMNS} FROM outbox WHERE {_OPEN} ORDER BY seq"))


def all_letters(db: sqlite3.Connection, states: Collection[LetterState], limit: int) -> list[Letter]:
    """The newest `limit` letters in these states, oldest first."""
    marks = ", ".join("?" * len(states))
    newest = f"SELECT {_COLUMNS}, seq FROM outbox WHERE state IN ({marks}) ORDER BY seq DESC LIMIT ?"
    return _rows(db.execute(f"SELECT {_COLUMNS} FROM ({newest}) ORDER BY seq", (*states, limit)))


def _rows(found: Iterable[tuple[Any, ...]]) -> list[Letter]:
    return [Letter(*(*row[:-3], bool(row[-3]), tuple(json.loads(row[-2])), row[-1])) for row in found]


def outcomes_since(db: sqlite3.Connection, cursor: int) -> Iterator[tuple[int, Delivered]]:
    """Outcomes with a stamp after `cursor` (Unix ms), in order, each with its sequence number."""
    found = db.execute("SELECT seq, key, at, outcome, text FROM outcomes WHERE at > ? ORDER BY at, seq", (cursor,))
    for seq, *fields in found:
        yield seq, Delivered(*fields)


SHOWN: Final = 5  # letters given up, in `status` ...
GIVEN_UP_SHOWN_MS: Final = 7 * DAY_MS  # ... of so long


class GivenUp(NamedTuple):
    """A letter that was given up at `at` [ms], and why."""

    at: int
    person: str
    priority: Priority
    subject: str
    why: str


def given_up(db: sqlite3.Connection, since: int, limit: int) -> list[GivenUp]:
    """The last `limit` letters given up after `since` [ms], oldest first."""
    found = db.execute(
        "SELECT outcomes.at, person, priority, subject, outcomes.text FROM outcomes JOIN outbox USING (key) "
        "WHERE outcomes.outcome = 'dead' AND state = 'dead' AND outcomes.at > ? ORDER BY outcomes.at DESC LIMIT ?",
        (since, limit),
    ).fetchall()
    return [GivenUp(*row) for row in reversed(found)]


def counted(db: sqlite3.Connection) -> dict[str, int]:
    """How many letters are in each state."""
    return dict(db.execute("SELECT state, count(*) FROM outbox GROUP BY state").fetchall())
