"""The record that grows by what happens, a table each: days, forecasts, rain, alarm transitions and moves, acts with
their verdicts, what was said of the store itself.
"""

# ruff: noqa: S608 - what is put into the text of a statement is a constant of this file

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any, Final

from dawnline.event import Act, Day, Forecast, Moved, Rainfall, Storing, Transition


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


_DAY: Final = (
    "date, probe, dawn_low, dawn_low_at, dusk_high, dusk_high_at, swing, mean, minutes_below, minutes_above, "
    "coverage, partial"
)
_TRANSITION: Final = "id, at, since, alarm, change, priority, probe, value, text, actor"
_MOVE: Final = "at, alarm, probe, episode, move, before, after, priority, actor, reason"
_STORING: Final = "at, trouble, grave"
_ACT: Final = "id, at, kind, body, actor, accepted, text, received_at"


def _add(db: sqlite3.Connection, table: str, columns: str, rows: Iterable[Any], verb: str = "INSERT") -> None:
    """Append rows whose fields are named as the columns."""
    names = columns.split(", ")
    db.executemany(
        f"{verb} INTO {table} ({columns}) VALUES ({', '.join('?' * len(names))})", map(attrgetter(*names), rows)
    )


def put_days(db: sqlite3.Connection, days: Iterable[Day]) -> None:
    """Store days; a later one for the same date and probe takes the place of the earlier."""
    _add(db, "days", _DAY, days, "INSERT OR REPLACE")


def select_days(db: sqlite3.Connection, first: str, last: str) -> list[Day]:
    """Days from date `first` to date `last`, both included (ISO dates), by date, then probe."""
    found = db.execute(f"SELECT {_DAY} FROM days WHERE date BETWEEN ? AND ? ORDER BY date, probe", (first, last))
    return [Day(*(*row[:-1], bool(row[-1]))) for row in found]


def put_forecasts(db: sqlite3.Connection, forecasts: Iterable[Forecast]) -> None:
    """Store forecasts; the same moment and probe again takes the place of the earlier."""
    db.executemany(
        "INSERT OR REPLACE INTO forecasts (about, at, probe, body, evidence) VALUES (?, ?, ?, ?, ?)",
        [(f.about, f.at, str(f.body.get("probe", "")), _json(f.body), _json(f.evidence)) for f in forecasts],
    )


def select_forecasts(db: sqlite3.Connection, about: str, start: int, end: int) -> list[Forecast]:
    """Forecasts given in start <= at < end (Unix ms), by time, then probe."""
    found = db.execute(
        "SELECT about, at, body, evidence FROM forecasts WHERE about = ? AND at >= ? AND at < ? ORDER BY at, probe",
        (about, start, end),
    )
    return [Forecast(kind, at, json.loads(body), json.loads(evidence)) for kind, at, body, evidence in found]


def last_forecast(db: sqlite3.Connection, about: str, before: int) -> Forecast | None:
    """The last one given up to `before` (Unix ms)."""
    row = db.execute("SELECT max(at) FROM forecasts WHERE about = ? AND at <= ?", (about, before)).fetchone()
    return None if row[0] is None else select_forecasts(db, about, row[0], row[0] + 1)[0]


def put_rain(db: sqlite3.Connection, rain: Iterable[Rainfall]) -> None:
    """Store rain; the same gauge and end again takes the place of the earlier."""
    db.executemany("INSERT OR REPLACE INTO rain (probe, start, at, mm) VALUES (?, ?, ?, ?)", rain)


def select_rain(db: sqlite3.Connection, probe: str, start: int, end: int) -> list[Rainfall]:
    """Rain of one gauge that had fallen by start <= at < end (Unix ms), by that time."""
    found = db.execute(
        "SELECT probe, start, at, mm FROM rain WHERE probe = ? AND at >= ? AND at < ? ORDER BY at", (probe, start, end)
    )
    return [Rainfall(*row) for row in found]


def add_transitions(db: sqlite3.Connection, transitions: Iterable[Transition]) -> None:
    """Append to the journal of the alarms."""
    _add(db, "transitions", _TRANSITION, transitions)


def select_transitions(db: sqlite3.Connection, start: int, end: int, limit: int) -> list[Transition]:
    """The last `limit` transitions decided in start <= at < end (Unix ms), in the order they were decided."""
    found = db.execute(
        f"SELECT {_TRANSITION} FROM transitions WHERE at >= ? AND at < ? ORDER BY at DESC, seq DESC LIMIT ?",
        (start, end, limit),
    )
    return [Transition(*row) for row in found][::-1]


def add_moves(db: sqlite3.Connection, moves: Iterable[Moved]) -> None:
    """Append to the journal of the alarms' moves between their states, the quiet ones included."""
    _add(db, "moves", _MOVE, moves)


def select_moves(db: sqlite3.Connection, start: int, end: int) -> list[Moved]:
    """Moves of start <= at < end (Unix ms), in the order in which they were made."""
    found = db.execute(f"SELECT {_MOVE} FROM moves WHERE at >= ? AND at < ? ORDER BY at, seq", (start, end))
    return [Moved(*row) for row in found]


def add_storing(db: sqlite3.Connection, said: Iterable[Storing]) -> None:
    """Append what was said of the store itself: with what it could not take, once it could."""
    _add(db, "storing", _STORING, said)


def storing_since(db: sqlite3.Connection, cursor: int) -> Iterator[tuple[int, Storing]]:
    """What was said after `cursor` (Unix ms), in order, each with its sequence number."""
    found = db.execute(f"SELECT seq, {_STORING} FROM storing WHERE at > ? ORDER BY at, seq", (cursor,))
    for seq, at, trouble, grave in found:
        yield seq, Storing(at, trouble, bool(grave))


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


def select_acts(db: sqlite3.Connection, start: int, end: int) -> list[ActRow]:
    """Acts about start <= at < end (Unix ms), by that time."""
    found = db.execute(f"SELECT {_ACT}, seq FROM acts WHERE at >= ? AND at < ? ORDER BY at, seq", (start, end))
    return [_act_row(row) for row in found]


def select_accepted(db: sqlite3.Connection, start: int, end: int) -> list[Act]:
    """As `select_acts`, without those that were refused: of these there may be any number."""
    query = f"SELECT {_ACT}, seq FROM acts WHERE at >= ? AND at < ? AND accepted ORDER BY at, seq"
    return [_act_row(row).act for row in db.execute(query, (start, end))]


def acts_since(db: sqlite3.Connection, cursor: int) -> Iterator[tuple[int, ActRow]]:
    """Acts that the pipeline saw after `cursor` (Unix ms), in order, each with its sequence number."""
    found = db.execute(f"SELECT {_ACT}, seq FROM acts WHERE received_at > ? ORDER BY received_at, seq", (cursor,))
    for row in found:
        yield row[-1], _act_row(row)


def accepted_acts(db: sqlite3.Connection, until: int, kinds: Sequence[str]) -> list[Act]:
    """Acts of these kinds that were accepted and that the pipeline saw up to `until` (Unix ms), in order."""
    marks = ", ".join("?" * len(kinds))
    query = (
        f"SELECT {_ACT}, seq FROM acts "
        f"WHERE received_at <= ? AND accepted AND kind IN ({marks}) ORDER BY received_at, seq"
    )
    return [_act_row(row).act for row in db.execute(query, (until, *kinds))]


def select_verdict(db: sqlite3.Connection, act_id: str) -> tuple[bool, str] | None:
    """Whether this act was accepted, and the answer; None while it is not in the store."""
    row = db.execute("SELECT accepted, text FROM acts WHERE id = ?", (act_id,)).fetchone()
    return row and (bool(row[0]), row[1])


def _act_row(row: tuple[str, int, str, str, str, int, str, int, int]) -> ActRow:
    act_id, at, kind, body, actor, accepted, text, received_at, seq = row
    return ActRow(Act(act_id, at, kind, json.loads(body), actor), bool(accepted), text, received_at, seq)


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), default=dict)
