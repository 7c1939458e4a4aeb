"""What fell into the rain gauges, by the quarter of an hour: worked out by the fold, since a running total says it only
to those who follow it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from dawnline.event import Rainfall


def put_rain(db: sqlite3.Connection, rain: Iterable[Rainfall]) -> None:
    """Store rain; the same gauge and end again takes the place of the earlier."""
    db.executemany("INSERT OR REPLACE INTO rain (probe, start, at, mm) VALUES (?, ?, ?, ?)", rain)


def select_rain(db: sqlite3.Connection, probe: str, start: int, end: int) -> list[Rainfall]:
    """Rain of one gauge that had fallen by start <= at < end (Unix ms), by that time."""
    found = db.execute(
        "SELECT probe, start, at, mm FROM rain WHERE probe = ? AND at >= ? AND at < ? ORDER BY at", (probe, start, end)
    )
    return [Rainfall(*row) for row in found]
