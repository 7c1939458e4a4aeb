"""Forecasts as they were given: of tonight every twenty minutes, of the buffer once a morning."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator

from dawnline.event import Forecast


def put_forecasts(db: sqlite3.Connection, forecasts: Iterable[Forecast]) -> None:
    """Store forecasts; the same moment and probe again takes the place of the earlier."""
    db.executemany(
        "INSERT OR REPLACE INTO forecasts (about, at, probe, body, evidence) VALUES (?, ?, ?, ?, ?)",
        [(f.about, f.at, str(f.body.get("probe", "")), _json(f.body), _json(f.evidence)) for f in forecasts],
    )


def select_forecasts(db: sqlite3.Connection, about: str, start: int, end: int) -> Iterator[Forecast]:
    """Forecasts given in start <= at < end (Unix ms), by time, then probe."""
    found = db.execute(
        "SELECT about, at, body, evidence FROM forecasts WHERE about = ? AND at >= ? AND at < ? ORDER BY at, probe",
        (about, start, end),
    )
    for kind, at, body, evidence in found:
        yield Forecast(kind, at, json.loads(body), json.loads(evidence))


def last_forecast(db: sqlite3.Connection, about: str, before: int) -> Forecast | None:
    """The last one given up to `before` (Unix ms)."""
    row = db.execute("SELECT max(at) FROM forecasts WHERE about = ? AND at <= ?", (about, before)).fetchone()
    return None if row[0] is None else next(select_forecasts(db, about, row[0], row[0] + 1))


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), default=dict)
