"""The record that grows by what happens: days, alarm transitions, acts with their verdicts."""

# ruff: noqa: S608 - what is put into the text of a statement is a constant of this file

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from dawnline.event import Act, Day, Transition


@dataclass(frozen=True, slots=True)
class ActRow:
    """An act and its verdict. `received_at` (Unix ms) is when the pipeline saw it, `act.at` its own; `number` is its
    place in the store, 0 before it is there.
    """

    act: Act
    accepted: bool
    text: str
    received_at: int
    number: int = 0


_DAY = (
    "date, probe, dawn_low, dawn_low_at, dusk_high, dusk_high_at, swing, mean, minutes_below, minutes_above, "
    "coverage, partial"
)
_TRANSITION = "id, at, since, alarm, change, priority, probe, value, text, actor"
_ACT = "id, at, kind, body, actor, accepted, text, received_at"


def put_days(db: sqlite3.Connection, days: Iterable[Day]) -> None:
    """Store days; a later one for the same date and probe takes the place of the earlier."""
    db.executemany(
        f"INSERT OR REPLACE INTO days ({_DAY}) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)",
        [
            (d.date, d.probe, d.dawn_low, d.dawn_low_at, d.dusk_high, d.dusk_high_at, d.swing, d.mean,
             d.minutes_below, d.minutes_above, d.coverage, d.partial)
            for d in days
        ],
    )  # fmt: skip


def select_days(db: sqlite3.Connection, first: str, last: str) -> Iterator[Day]:
    """Days from date `first` to date `last`, both included (ISO dates), by date, then probe."""
    found = db.execute(f"SELECT {_DAY} FROM days WHERE date BETWEEN ? AND ? ORDER BY date, probe", (first, last))
    for row in found:
        yield Day(*(*row[:-1], bool(row[-1])))


def add_transitions(db: sqlite3.Connection, transitions: Iterable[Transition]) -> None:
    """Append to the journal of the alarms."""
    db.executemany(
        f"INSERT INTO transitions ({_TRANSITION}) VALUES (?,?,?,?,?,?,?,?,?,?)",
        [(t.id, t.at, t.since, t.alarm, t.change, t.priority, t.probe, t.value, t.text, t.actor) for t in transitions],
    )


def select_transitions(db: sqlite3.Connection, start: int, end: int, limit: int) -> list[Transition]:
    """The last `limit` transitions decided in start <= at < end (Unix ms), in the order they were decided."""
    found = db.execute(
        f"SELECT {_TRANSITION} FROM transitions WHERE at >= ? AND at < ? ORDER BY at DESC, seq DESC LIMIT ?",
        (start, end, limit),
    )
    return [Transition(*row) for row in found][::-1]


def add_acts(db: sqlite3.Connection, acts: Iterable[ActRow]) -> None:
    """Store acts; an id already there changes nothing."""
    db.executemany(
        f"INSERT INTO acts ({_ACT}) VALUES (?,?,?,?,?,?,?,?) ON CONFLICT (id) DO NOTHING",
        [
            (r.act.id, r.act.at, r.act.kind, json.dumps(r.act.body, default=dict), r.act.actor, r.accepted,
             r.text, r.received_at)
            for r in acts
        ],
    )  # fmt: skip


def select_acts(db: sqlite3.Connection, start: int, end: int) -> Iterator[ActRow]:
    """Acts about start <= at < end (Unix ms), by that time."""
    found = db.execute(f"SELECT {_ACT}, seq FROM acts WHERE at >= ? AND at < ? ORDER BY at, seq", (start, end))
    for row in found:
        yield _act_row(row)


def select_accepted(db: sqlite3.Connection, start: int, end: int) -> Iterator[Act]:
    """As `select_acts`, without those that were refused: of these there may be any number."""
    query = f"SELECT {_ACT}, seq FROM acts WHERE at >= ? AND at < ? AND accepted ORDER BY at, seq"
    for row in db.execute(query, (start, end)):
        yield _act_row(row).act


def acts_since(db: sqlite3.Connection, cursor: int) -> Iterator[tuple[int, ActRow]]:
    """Acts that the pipeline saw after `cursor` (Unix ms), in order, each with its sequence number."""
    found = db.execute(f"SELECT {_ACT}, seq FROM acts WHERE received_at > ? ORDER BY received_at, seq", (cursor,))
    for row in found:
        yield row[-1], _act_row(row)


def accepted_acts(db: sqlite3.Connection, until: int, kinds: Sequence[str]) -> Iterator[Act]:
    """Acts of these kinds that were accepted and that the pipeline saw up to `until` (Unix ms), in order."""
    marks = ", ".join("?" * len(kinds))
    query = (
        f"SELECT {_ACT}, seq FROM acts "
        f"WHERE received_at <= ? AND accepted AND kind IN ({marks}) ORDER BY received_at, seq"
    )
    for row in db.execute(query, (until, *kinds)):
        yield _act_row(row).act


def select_verdict(db: sqlite3.Connection, act_id: str) -> tuple[bool, str] | None:
    """Whether this act was accepted, and the answer; None while it is not in the store."""
    row = db.execute("SELECT accepted, text FROM acts WHERE id = ?", (act_id,)).fetchone()
    return row and (bool(row[0]), row[1])


def _act_row(row: tuple[str, int, str, str, str, int, str, int, int]) -> ActRow:
    act_id, at, kind, body, actor, accepted, text, received_at, seq = row
    return ActRow(Act(act_id, at, kind, json.loads(body), actor), bool(accepted), text, received_at, seq)
