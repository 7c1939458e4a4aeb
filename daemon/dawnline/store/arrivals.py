"""Readings in the order in which they arrived, from a given place on: for copying them elsewhere."""

from __future__ import annotations

import sqlite3
from collections.abc import Generator
from heapq import merge
from itertools import islice
from typing import TypeAlias

Arrival: TypeAlias = tuple[int, str, int, int, str, float, int]
"""received_at [Unix ms], probe, at [Unix ms], n, quantity, value, flag"""


def select_arrivals(db: sqlite3.Connection, after: tuple[int, str, int, int], limit: int) -> list[Arrival]:
    """The next `limit` readings after the place (received_at, probe, at, n), ordered by it.

    Received stamps of all that is committed later are greater than those there are: a place once passed stays so.
    """
    probes = db.execute("SELECT id, name, quantity FROM probes").fetchall()
    streams = [stream for probe in probes for stream in _of(db, probe, after)]
    found: list[Arrival] = list(islice(merge(*streams), limit))
    for stream in streams:
        stream.close()
    return found


def _of(
    db: sqlite3.Connection, probe: tuple[int, str, str], after: tuple[int, str, int, int]
) -> list[Generator[Arrival, None, None]]:
    """Those received as they were measured, by the key; the others, by their own index."""
    number, name, quantity = probe

    def rows(condition: str, order: str) -> Generator[Arrival, None, None]:
        found = db.execute(
            "SELECT at + late, at, n, value, flag FROM readings "  # noqa: S608  constants of this file
            f"WHERE probe = ? AND {condition} ORDER BY {order}",
            (number, after[0]),
        )
        for received_at, at, n, value, flag in found:
            if (received_at, name, at, n) > after:
                yield received_at, name, at, n, quantity, value, flag

    return [rows("late = 0 AND at >= ?", "at, n"), rows("late <> 0 AND at + late >= ?", "at + late, at, n")]
