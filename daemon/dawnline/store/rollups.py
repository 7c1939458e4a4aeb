"""The readings by the quarter of an hour: written in the commit that ends a quarter, or brings a reading of an old one.

A quarter is whole once its probe has a later reading; the running one is always asked of the readings themselves.
"""

# ruff: noqa: S608 - what is put into the text of a statement is a constant of this file

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import Final

from dawnline.duration import DAY_MS
from dawnline.rollup import STEP_MS, Rollup
from dawnline.store import state

FIGURES: Final = (
    "count(*) FILTER (WHERE flag = 1), ifnull(min(value) FILTER (WHERE flag = 1), 0.0), "
    "ifnull(max(value) FILTER (WHERE flag = 1), 0.0), total(value) FILTER (WHERE flag = 1), "
    "count(*) FILTER (WHERE flag <> 1)"
)
_ONE: Final = f"""INSERT OR REPLACE INTO rollups (probe, at, number, low, high, total, flagged)
                SELECT probe, ?2, {FIGURES} FROM readings WHERE probe = ?1 AND at >= ?2 AND at < ?2 + {STEP_MS}
                GROUP BY probe"""


def newest(db: sqlite3.Connection, probes: Iterable[int]) -> dict[int, int]:
    """The time of the newest reading [ms] of each of these probe ids; -1 where there is none."""
    found = {}
    for probe in probes:
        row = db.execute("SELECT ifnull(max(at), -1) FROM readings WHERE probe = ?", (probe,)).fetchone()
        found[probe] = int(row[0])
    return found


def keep_up(db: sqlite3.Connection, added: Iterable[tuple[int, int]], before: Mapping[int, int]) -> None:
    """Rows of these (probe, at) were `added`; `before` is what `newest` gave before that."""
    touched = {(probe, at // STEP_MS) for probe, at in added}
    running = {probe: at // STEP_MS for probe, at in before.items()}
    for probe, quarter in touched:
        running[probe] = max(running[probe], quarter)
    touched |= {(probe, at // STEP_MS) for probe, at in before.items() if at >= 0 and at // STEP_MS < running[probe]}
    gone = {probe: int(state.get(db, f"raw since {probe}") or 0) for probe in running}
    whole = sorted(
        (probe, quarter * STEP_MS)
        for probe, quarter in touched
        if quarter < running[probe] and quarter * STEP_MS >= gone[probe]  # else see retention.py
    )
    if whole:
        db.executemany(_ONE, whole)


def fill(db: sqlite3.Connection) -> None:
    """Roll up every reading there is, a day at a time: sorting years of them would take room a board has not."""
    for (probe,) in db.execute("SELECT id FROM probes").fetchall():
        at = 0
        while row := db.execute("SELECT min(at) FROM readings WHERE probe = ? AND at >= ?", (probe, at)).fetchone():
            if row[0] is None:
                break
            at = row[0] // DAY_MS * DAY_MS
            db.execute(
                f"""INSERT INTO rollups (probe, at, number, low, high, total, flagged)
                SELECT probe, at / {STEP_MS} * {STEP_MS} AS since, {FIGURES} FROM readings
                WHERE probe = ?1 AND at >= ?2 AND at < ?2 + {DAY_MS} GROUP BY probe, since""",
                (probe, at),
            )
            at += DAY_MS


def select_rollups(db: sqlite3.Connection, probe: str, start: int, end: int, step: int) -> list[Rollup]:
    """Readings of start <= at < end by `step` ms from `start`; all three are multiples of `STEP_MS`."""
    row = db.execute("SELECT id FROM probes WHERE name = ?", (probe,)).fetchone()
    if row is None:
        return []
    number = int(row[0])
    running = max(newest(db, [number])[number], 0) // STEP_MS * STEP_MS
    found = db.execute(
        f"""WITH parts (at, number, low, high, total, flagged) AS (
                SELECT at, number, low, high, total, flagged FROM rollups
                WHERE probe = :probe AND at >= :start AND at < min(:end, :running)
                UNION ALL
                SELECT :running, {FIGURES} FROM readings
                WHERE probe = :probe AND at >= max(:start, :running) AND at < :end HAVING count(*) > 0)
            SELECT :start + (at - :start) / :step * :step AS since, sum(number),
                ifnull(min(low) FILTER (WHERE number > 0), 0.0), ifnull(max(high) FILTER (WHERE number > 0), 0.0),
                total(total), sum(flagged)
            FROM parts GROUP BY since ORDER BY since""",
        {"probe": number, "start": start, "end": end, "step": step, "running": running},
    )
    return [Rollup(*figures) for figures in found]
