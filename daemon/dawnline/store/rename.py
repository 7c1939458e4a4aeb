"""A probe of the record goes on under another name: its readings, days, forecasts, alarms and what was done at it."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, Final

from dawnline.errors import StoreError
from dawnline.store import rollups, state
from dawnline.store.connection import lock, open_writer
from dawnline.store.failure import explained

_NAMED: Final = ("transitions", "moves", "rain", "forecasts")  # tables that have a probe by its name, beside `days`
_JSON: Final = (("acts", "body"), ("forecasts", "body"), ("forecasts", "evidence"))
_BY_ID: Final = ("readings", "rollups", "provisional")


def rename(path: Path, old: str, new: str) -> int:
    """Give the probe `old` of the store at `path` the name `new`; the service must be stopped. Gives its readings.

    Where `new` has readings of its own, of later, they are one probe's from now on. Values, times and flags stay as
    they are. What the pipeline had learned is left out, to be learned again from the record at the next start. Raises
    StoreError, changing nothing, where there is no such probe, or where the two cannot be one.
    """
    with lock(path), explained(path):
        if not path.exists():
            raise StoreError("there is no such file")
        with closing(open_writer(path)) as db:
            db.execute("BEGIN IMMEDIATE")
            try:
                count = _renamed(db, old, new)
                db.execute("COMMIT")
            except BaseException:
                db.execute("ROLLBACK")
                raise
    return count


def _renamed(db: sqlite3.Connection, old: str, new: str) -> int:
    ids = {
        name: (int(number), quantity) for number, name, quantity in db.execute("SELECT id, name, quantity FROM probes")
    }
    if old not in ids:
        raise StoreError(f"there is no probe {old!r} in it, only: {', '.join(ids)}")
    number = ids[old][0]
    if new in ids:
        _take_in(db, ids[old], ids[new], (old, new))
    db.execute("UPDATE probes SET name = ? WHERE id = ?", (new, number))
    db.execute(
        """DELETE FROM days WHERE probe IN (?1, ?2) AND EXISTS (
            SELECT 1 FROM days AS other WHERE other.date = days.date AND other.probe IN (?1, ?2)
            AND other.probe <> days.probe AND (other.coverage, other.probe) > (days.coverage, days.probe))""",
        (old, new),
    )
    for table in ("days", *_NAMED):
        db.execute(f"UPDATE OR REPLACE {table} SET probe = ? WHERE probe = ?", (new, old))  # noqa: S608 - of this file
    db.create_function("said_anew", 1, lambda text: _anew(text, old, new), deterministic=True)
    for table, column in _JSON:
        db.execute(f"UPDATE {table} SET {column} = said_anew({column}) WHERE {column} <> said_anew({column})")  # noqa: S608
    memory = state.get(db, state.ALARM_MEMORY)
    if memory is not None:
        kept = _with(json.loads(memory), old, new)
        kept["memory"] = [[alarm, new if probe == old else probe, each] for alarm, probe, each in kept["memory"]]
        state.put(db, state.ALARM_MEMORY, json.dumps(kept))
    db.execute("DELETE FROM checkpoint")
    return int(db.execute("SELECT count(*) FROM readings WHERE probe = ?", (number,)).fetchone()[0])


def _take_in(db: sqlite3.Connection, old: tuple[int, str], new: tuple[int, str], names: tuple[str, str]) -> None:
    """The readings of `new` are appended to those of `old`, each an id and a quantity."""
    (number, quantity), (other, measures) = old, new
    if quantity != measures:
        raise StoreError(f"{names[0]} has readings of {quantity} and {names[1]} of {measures}: they are two probes")
    last = rollups.newest(db, [number])[number]
    row = db.execute("SELECT min(at), max(at) FROM readings WHERE probe = ?", (other,)).fetchone()
    if row[0] is not None and row[0] <= last:
        raise StoreError(f"{names[1]} has readings from before those of {names[0]} end: they are two probes")
    for table in _BY_ID:
        db.execute(f"UPDATE OR REPLACE {table} SET probe = ? WHERE probe = ?", (number, other))  # noqa: S608 - as above
    if row[0] is not None:
        rollups.keep_up(db, [(number, at) for at in (last, *row) if at >= 0], {number: last})
    db.execute("DELETE FROM state WHERE key = ?", (f"raw since {other}",))
    db.execute("DELETE FROM probes WHERE id = ?", (other,))


def _anew(text: str, old: str, new: str) -> str:
    found = json.loads(text)
    said = _with(found, old, new)
    return text if said == found else json.dumps(said, ensure_ascii=False)


def _with(found: Any, old: str, new: str) -> Any:
    """The same JSON with `new` wherever a key `probe` says `old`."""
    if isinstance(found, list):
        return [_with(each, old, new) for each in found]
    if isinstance(found, dict):
        return {key: new if (key, each) == ("probe", old) else _with(each, old, new) for key, each in found.items()}
    return found
