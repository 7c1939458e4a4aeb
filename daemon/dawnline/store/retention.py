"""Retention: raw readings are let go after a time, a little at once; their quarters of an hour stay for ever.

Nothing goes that is not rolled up: a step rolls up what it lets go in the same transaction. What arrives later still
for quarters that have gone is added to them when it goes in its turn, so it counts once. The newest reading's quarter
stays always. Pages set free are used again by new readings: the file stays as large as it is.
"""

# ruff: noqa: S608 - what is put into the text of a statement is a constant of this file

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from dawnline.duration import DAY_MS, EVER_MS
from dawnline.rollup import STEP_MS
from dawnline.store import rollups, state

ROWS: Final = 5_000  # let go in a step, at most, but for a quarter of an hour that holds more

_GOING: Final = "probe = ?1 AND at >= ?2 AND at < ?3"
_QUARTERS: Final = (
    f"SELECT probe, at / {STEP_MS} * {STEP_MS} AS since, {rollups.FIGURES} FROM readings WHERE {_GOING} GROUP BY since"
)
_ROLL_UP: Final = f"INSERT OR REPLACE INTO rollups (probe, at, number, low, high, total, flagged) {_QUARTERS}"
_ADD: Final = f"""INSERT INTO rollups (probe, at, number, low, high, total, flagged) {_QUARTERS}
    ON CONFLICT (probe, at) DO UPDATE SET
        low = iif(number = 0, excluded.low, iif(excluded.number = 0, low, min(low, excluded.low))),
        high = iif(number = 0, excluded.high, iif(excluded.number = 0, high, max(high, excluded.high))),
        total = total + excluded.total, number = number + excluded.number, flagged = flagged + excluded.flagged"""


class Step(NamedTuple):
    """What a step did: rows let go; the time [ms] of readings that wait for the copy elsewhere, None where none do."""

    gone: int
    waiting: int | None = None


def raw_since(db: sqlite3.Connection, probe: int) -> int:
    """From when on [ms] the raw readings of this probe are all there; before it only its quarters may be."""
    return int(state.get(db, f"raw since {probe}") or 0)


def raw_since_of(db: sqlite3.Connection, name: str) -> int:
    """The same by the probe's name; 0 for one that is not known."""
    row = db.execute("SELECT id FROM probes WHERE name = ?", (name,)).fetchone()
    return 0 if row is None else raw_since(db, row[0])


def recorded_since(db: sqlite3.Connection, days: int) -> int:
    """The begin [ms] of the last `days` days (UTC) on which something was recorded; 0 where there are fewer.

    Whatever the clock says: after one that ran years ahead for a day, this is a day later and not years. Of several
    probes the latest counts, so that one that is no longer there holds nothing up.
    """
    return max((_recorded_since(db, probe, days) for (probe,) in db.execute("SELECT id FROM probes")), default=0)


def _recorded_since(db: sqlite3.Connection, probe: int, days: int) -> int:
    begin = EVER_MS
    for _ in range(days):
        row = db.execute("SELECT max(at) FROM rollups WHERE probe = ? AND at < ?", (probe, begin)).fetchone()
        if row[0] is None:
            return 0
        begin = int(row[0]) // DAY_MS * DAY_MS
    return begin


def let_go(db: sqlite3.Connection, before: int, copied: int | None, rows: int = ROWS) -> Step:
    """Let some of the oldest raw readings go that were measured before `before` [ms]; call it in a transaction.

    Where they are copied elsewhere, `copied` is the time [ms] of arrival up to which that is certain: what arrived then
    or later stays. One probe has its turn in a step, the one with the oldest readings first.
    """
    oldest = []
    waiting: list[int] = []
    for (probe,) in db.execute("SELECT id FROM probes").fetchall():
        first, last = db.execute(
            "SELECT (SELECT min(at) FROM readings WHERE probe = ?1), (SELECT max(at) FROM readings WHERE probe = ?1)",
            (probe,),
        ).fetchone()
        if first is not None and first < (end := min(max(before, raw_since(db, probe)), last) // STEP_MS * STEP_MS):
            oldest.append((first, probe, end))
    for first, probe, end in sorted(oldest):
        until = _until(db, probe, first, end, rows)
        if copied is not None and not _copied(db, probe, first, until, copied):
            waiting.append(first)
            continue
        return Step(_let_go(db, probe, first, until), min(waiting, default=None))
    return Step(0, min(waiting, default=None))


def _until(db: sqlite3.Connection, probe: int, first: int, end: int, rows: int) -> int:
    """The end of a step: whole quarters, about `rows` readings, all of them before or all after what has gone."""
    row = db.execute(
        "SELECT at FROM readings WHERE probe = ? AND at >= ? ORDER BY at, n LIMIT 1 OFFSET ?", (probe, first, rows)
    ).fetchone()
    after = first // STEP_MS * STEP_MS + STEP_MS
    until = end if row is None else min(end, max(after, row[0] // STEP_MS * STEP_MS))
    gone = raw_since(db, probe)
    return min(until, gone) if first < gone else until


def _copied(db: sqlite3.Connection, probe: int, first: int, until: int, copied: int) -> bool:
    row = db.execute(
        f"SELECT max(at + late) FROM readings WHERE {_GOING}", (probe, first, until)
    ).fetchone()  # a step's rows, and they are to be read anyway
    return row[0] is None or int(row[0]) < copied


def _let_go(db: sqlite3.Connection, probe: int, first: int, until: int) -> int:
    begin = first // STEP_MS * STEP_MS
    gone = raw_since(db, probe)
    db.execute(_ADD if first < gone else _ROLL_UP, (probe, begin, until))
    number = db.execute(f"DELETE FROM readings WHERE {_GOING}", (probe, begin, until)).rowcount
    if until > gone:
        state.put(db, f"raw since {probe}", until)
    return number
