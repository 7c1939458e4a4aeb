"""The journal of the alarms' moves between their states, the quiet ones included."""

# ruff: noqa: S608 - what is put into the text of a statement is a constant of this file

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from dawnline.event import Moved

_MOVE = "at, alarm, probe, episode, move, before, after, priority, actor, reason"


def add_moves(db: sqlite3.Connection, moves: Iterable[Moved]) -> None:
    """Append to the journal."""
    db.executemany(
        f"INSERT INTO moves ({_MOVE}) VALUES (?,?,?,?,?,?,?,?,?,?)",
        [
            (m.at, m.alarm, m.probe, m.episode, m.move, m.before, m.after, m.priority, m.actor, m.reason)
            for m in moves
        ],
    )  # fmt: skip


def select_moves(db: sqlite3.Connection, start: int, end: int) -> list[Moved]:
    """Moves of start <= at < end (Unix ms), in the order in which they were made."""
    found = db.execute(f"SELECT {_MOVE} FROM moves WHERE at >= ? AND at < ? ORDER BY at, seq", (start, end))
    return [Moved(*row) for row in found]
