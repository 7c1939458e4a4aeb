"""Readings: one row a value, keyed by probe and time; further values of the same time are counted by `n`."""

# ruff: noqa: S608 - what is put into the text of a statement is a constant of this file

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from heapq import merge
from itertools import islice
from typing import TypeAlias

from dawnline.errors import StoreError
from dawnline.reading import Flag, Reading, Reason, Sample
from dawnline.rollup import Rollup
from dawnline.store import rollups

Row: TypeAlias = tuple[int, int, float, int, int, int]

Arrival: TypeAlias = tuple[int, str, int, int, str, float, int]
"""received_at [Unix ms], probe, at [Unix ms], n, quantity, value, flag"""

_FIRST = (
    "INSERT INTO readings (probe, at, n, value, flag, reason, late) VALUES (?, ?, 0, ?, ?, ?, ?) ON CONFLICT DO NOTHING"
)
_FURTHER = """
    WITH new (probe, at, value, flag, reason, late) AS (VALUES (?, ?, ?, ?, ?, ?))
    INSERT INTO readings (probe, at, n, value, flag, reason, late)
    SELECT probe, at,
        (SELECT ifnull(max(n) + 1, 0) FROM readings AS old WHERE old.probe = new.probe AND old.at = new.at),
        value, flag, reason, late
    FROM new WHERE NOT EXISTS (
        SELECT 1 FROM readings AS old WHERE old.probe = new.probe AND old.at = new.at AND old.value = new.value)"""

_RANGE = "probe = (SELECT id FROM probes WHERE name = ?) AND at >= ? AND at < ?"

_FLAGS = {int(flag): flag for flag in Flag}
_REASONS = {int(reason): reason for reason in Reason}


def rows_of(readings: Iterable[Reading], ids: Mapping[str, int]) -> list[Row]:
    """Rows to insert. Raises StoreError for a probe without an id."""
    try:  # int(): SQLite's binding is quick for plain integers only
        return [
            (ids[probe], at, value, int(flag), int(reason), received_at - at)
            for probe, at, value, received_at, flag, reason in readings
        ]
    except KeyError as error:
        raise StoreError(f"has no probe {error}: name it when the store is opened") from None


def add_readings(db: sqlite3.Connection, rows: Sequence[Row]) -> None:
    """Insert rows in order.

    The same probe, time and value again changes nothing; another value for a time already there gets the next
    `n`. Nearly always every row is the first of its time and one statement does it; where one was not, all go
    through the careful statement, to which those just inserted are exact repeats.
    """
    if not rows:
        return
    before = rollups.newest(db, {row[0] for row in rows})
    if db.executemany(_FIRST, rows).rowcount != len(rows):
        db.executemany(_FURTHER, rows)
    rollups.keep_up(db, ((row[0], row[1]) for row in rows), before)


def select_readings(db: sqlite3.Connection, probe: str, start: int, end: int) -> Iterator[Reading]:
    """Readings of one probe with start <= at < end (Unix ms), by time, then in the order they came."""
    found = db.execute(
        f"SELECT at, value, at + late, flag, reason FROM readings WHERE {_RANGE} ORDER BY at, n",
        (probe, start, end),
    )
    new = tuple.__new__  # a quarter less time than Reading(...), over the 120 000 readings of a week
    for at, value, received_at, flag, reason in found:
        yield new(Reading, (probe, at, value, received_at, _FLAGS[flag], _REASONS[reason]))


def select_good(db: sqlite3.Connection, probe: str, start: int, end: int) -> Iterator[tuple[int, float]]:
    """Time and value of the good readings alone, start <= at < end (Unix ms), by time."""
    return db.execute(f"SELECT at, value FROM readings WHERE {_RANGE} AND flag = 1 ORDER BY at, n", (probe, start, end))


def select_buckets(db: sqlite3.Connection, probe: str, start: int, end: int, step: int) -> list[Rollup]:
    """Good readings of start <= at < end (Unix ms) by `step` ms from `start`, empty stretches left out; any times."""
    found = db.execute(
        f"SELECT ? + (at - ?) / ? * ? AS since, count(*), min(value), max(value), total(value) "
        f"FROM readings WHERE {_RANGE} AND flag = 1 GROUP BY since ORDER BY since",
        (start, start, step, step, probe, start, end),
    )
    return [Rollup(*row) for row in found]


def latest_reading(db: sqlite3.Connection, probe: str) -> Reading | None:
    """The reading of one probe with the latest time of its own, not ahead of the clock; of several, the one that came
    last.
    """
    found = db.execute(
        "SELECT at, value, at + late, flag, reason FROM readings "
        "WHERE probe = (SELECT id FROM probes WHERE name = ?) AND reason <> ? ORDER BY at DESC, n DESC LIMIT 1",
        (probe, Reason.AHEAD_OF_CLOCK),
    )
    for at, value, received_at, flag, reason in found.fetchall():
        return Reading(probe, at, value, received_at, _FLAGS[flag], _REASONS[reason])
    return None


def select_span(db: sqlite3.Connection) -> dict[str, tuple[int, int]]:
    """First and last reading time (Unix ms) of each probe that has any; a sender's slip into the future is no end."""
    of_one = f"SELECT at FROM readings WHERE probe = id AND reason <> {Reason.AHEAD_OF_CLOCK:d} ORDER BY at"
    found = db.execute(f"SELECT name, ({of_one} LIMIT 1), ({of_one} DESC LIMIT 1) FROM probes ORDER BY id")
    return {name: (first, last) for name, first, last in found if first is not None}


def samples_since(db: sqlite3.Connection, probe: str, cursor: int) -> Iterator[Iterator[tuple[int, Sample]]]:
    """Two streams of the samples of one probe received after `cursor`, each with its `n`, ordered by
    (received_at, at, n).
    """
    for found in _received(db, probe, cursor):
        yield ((n, Sample(probe, at, value, got, reason != Reason.UNDATED)) for got, at, n, value, _, reason in found)


def select_arrivals(db: sqlite3.Connection, after: tuple[int, str, int, int], limit: int) -> list[Arrival]:
    """The next `limit` readings after the place (received_at, probe, at, n), ordered by it.

    Received stamps of all that is committed later are greater than those there are: a place once passed stays so.
    """
    found = [
        (name, quantity, rows)
        for name, quantity in db.execute("SELECT name, quantity FROM probes").fetchall()
        for rows in _received(db, name, after[0] - 1)
    ]
    arrivals = list(islice(merge(*(_arrivals(*each, after) for each in found)), limit))
    for _, _, rows in found:
        rows.close()
    return arrivals


def _arrivals(name: str, quantity: str, rows: sqlite3.Cursor, after: tuple[int, str, int, int]) -> Iterator[Arrival]:
    for received_at, at, n, value, flag, _ in rows:
        if (received_at, name, at, n) > after:
            yield received_at, name, at, n, quantity, value, flag


def _received(db: sqlite3.Connection, probe: str, after: int) -> Iterator[sqlite3.Cursor]:
    """Rows (received_at, at, n, value, flag, reason) received later than `after` [ms], in that order: those received as
    they were measured, by the key; the others, by their own index.
    """
    for condition, order in (
        ("late = 0 AND at > ?", "at, n"),
        ("late <> 0 AND at + late > ?", "at + late, at, n"),
    ):
        yield db.execute(
            "SELECT at + late, at, n, value, flag, reason FROM readings "
            f"WHERE probe = (SELECT id FROM probes WHERE name = ?) AND {condition} ORDER BY {order}",
            (probe, after),
        )
