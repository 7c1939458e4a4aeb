"""The tables, as ordered named steps forward; `PRAGMA user_version` counts the steps a file has taken."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from typing import NamedTuple

from dawnline.errors import StoreError
from dawnline.store import rollups


class Migration(NamedTuple):
    """One step forward. A published step is never edited: a change is a new step at the end."""

    name: str
    statements: tuple[str, ...]
    fill: Callable[[sqlite3.Connection], None] | None = None  # works on what these made, in the same transaction


# What a good row costs is what five years of them cost. SQLite stores the integers 0 and 1 in no bytes at all
# (file format, "Serial Type Codes Of The Record Format"), so probe ids begin at 0, `n` is 0 for the first
# value of a time, a good flag is 1, no reason is 0, and `late` is 0 for a reading that arrived as it was
# measured. WITHOUT ROWID makes the key the tree itself. `late` is received_at - at [ms], negative for a stamp
# ahead of us; its index holds the late rows only, so that an ordinary row never touches a second page.
MIGRATIONS: tuple[Migration, ...] = (
    Migration(
        "first tables",
        (
            """CREATE TABLE probes (
                id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, quantity TEXT NOT NULL) STRICT""",
            """CREATE TABLE readings (
                probe INTEGER NOT NULL, at INTEGER NOT NULL, n INTEGER NOT NULL, value REAL NOT NULL,
                flag INTEGER NOT NULL, reason INTEGER NOT NULL, late INTEGER NOT NULL,
                PRIMARY KEY (probe, at, n)) STRICT, WITHOUT ROWID""",
            """CREATE INDEX readings_late ON readings (probe, at + late) WHERE late <> 0""",
            """CREATE TABLE days (
                date TEXT NOT NULL, probe TEXT NOT NULL, dawn_low REAL, dawn_low_at INTEGER, dusk_high REAL,
                dusk_high_at INTEGER, swing REAL, mean REAL, minutes_below REAL NOT NULL,
                minutes_above REAL NOT NULL, coverage REAL NOT NULL, partial INTEGER NOT NULL,
                PRIMARY KEY (date, probe)) STRICT, WITHOUT ROWID""",
            """CREATE TABLE transitions (
                seq INTEGER PRIMARY KEY, id INTEGER NOT NULL, at INTEGER NOT NULL, since INTEGER NOT NULL,
                alarm TEXT NOT NULL, change TEXT NOT NULL, priority TEXT NOT NULL, probe TEXT, value REAL,
                text TEXT NOT NULL, actor TEXT NOT NULL) STRICT""",
            """CREATE INDEX transitions_at ON transitions (at)""",
            """CREATE TABLE acts (
                seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, received_at INTEGER NOT NULL,
                at INTEGER NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL, actor TEXT NOT NULL,
                accepted INTEGER NOT NULL, text TEXT NOT NULL) STRICT""",
            """CREATE INDEX acts_received ON acts (received_at)""",
            """CREATE INDEX acts_at ON acts (at)""",
            """CREATE TABLE outbox (
                seq INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, at INTEGER NOT NULL,
                episode INTEGER NOT NULL, person TEXT NOT NULL, address TEXT NOT NULL,
                priority TEXT NOT NULL, subject TEXT NOT NULL, text TEXT NOT NULL,
                attempts INTEGER NOT NULL, state TEXT NOT NULL) STRICT""",
            """CREATE INDEX outbox_open ON outbox (episode, address) WHERE state IN ('waiting', 'trying')""",
            """CREATE TABLE outcomes (
                seq INTEGER PRIMARY KEY, key TEXT NOT NULL, at INTEGER NOT NULL, outcome TEXT NOT NULL,
                text TEXT NOT NULL) STRICT""",
            """CREATE INDEX outcomes_at ON outcomes (at)""",
            """CREATE TABLE state (key TEXT PRIMARY KEY, value ANY NOT NULL) STRICT, WITHOUT ROWID""",
            """CREATE TABLE checkpoint (
                id INTEGER PRIMARY KEY CHECK (id = 0), version INTEGER NOT NULL, cursor INTEGER NOT NULL,
                packed BLOB NOT NULL) STRICT""",
        ),
    ),
    Migration(
        "readings of a time when the clock was not set",
        (
            """CREATE TABLE stretch (
                id INTEGER PRIMARY KEY CHECK (id = 0), boot TEXT NOT NULL, since INTEGER NOT NULL,
                offset INTEGER NOT NULL) STRICT""",
            """CREATE TABLE provisional (
                seq INTEGER PRIMARY KEY, probe INTEGER NOT NULL, monotonic INTEGER NOT NULL, value REAL NOT NULL,
                flag INTEGER NOT NULL, reason INTEGER NOT NULL, sent INTEGER) STRICT""",
        ),
    ),
    Migration(
        "forecasts",
        (
            """CREATE TABLE forecasts (
                about TEXT NOT NULL, at INTEGER NOT NULL, probe TEXT NOT NULL, body TEXT NOT NULL,
                evidence TEXT NOT NULL, PRIMARY KEY (about, at, probe)) STRICT, WITHOUT ROWID""",
        ),
    ),
    Migration(
        "readings by the quarter of an hour",
        (
            """CREATE TABLE rollups (
                probe INTEGER NOT NULL, at INTEGER NOT NULL, number INTEGER NOT NULL, low REAL NOT NULL,
                high REAL NOT NULL, total REAL NOT NULL, flagged INTEGER NOT NULL,
                PRIMARY KEY (probe, at)) STRICT, WITHOUT ROWID""",
        ),
        rollups.fill,
    ),
    Migration(
        "moves of alarms between their states",
        (
            """CREATE TABLE moves (
                seq INTEGER PRIMARY KEY, at INTEGER NOT NULL, alarm TEXT NOT NULL, probe TEXT, episode INTEGER,
                move TEXT NOT NULL, before TEXT NOT NULL, after TEXT NOT NULL, priority TEXT NOT NULL,
                actor TEXT NOT NULL, reason TEXT NOT NULL) STRICT""",
            """CREATE INDEX moves_at ON moves (at)""",
        ),
    ),
    Migration(
        "letters of one incident",
        (
            "ALTER TABLE outbox ADD COLUMN thread TEXT NOT NULL DEFAULT ''",
            "ALTER TABLE outbox ADD COLUMN opens INTEGER NOT NULL DEFAULT 1",
            "ALTER TABLE outbox ADD COLUMN asks TEXT NOT NULL DEFAULT '[]'",
        ),
    ),
    Migration(
        "rain by the quarter of an hour",
        (
            """CREATE TABLE rain (
                probe TEXT NOT NULL, start INTEGER NOT NULL, at INTEGER NOT NULL, mm REAL NOT NULL,
                PRIMARY KEY (probe, at)) STRICT, WITHOUT ROWID""",
        ),
    ),
    Migration(
        "what was said of the store itself",
        (
            """CREATE TABLE storing (
                seq INTEGER PRIMARY KEY, at INTEGER NOT NULL, trouble TEXT NOT NULL,
                grave INTEGER NOT NULL) STRICT""",
            """CREATE INDEX storing_at ON storing (at)""",
        ),
    ),
)


def version_of(db: sqlite3.Connection, application_id: int, newest: int) -> int:
    """How many steps this file has taken; 0 for an empty one.

    Raises StoreError (without the file's name) for another program's database or one from a newer program.
    """
    with_tables = bool(db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    found = int(db.execute("PRAGMA application_id").fetchone()[0])
    if (with_tables or version) and found != application_id:
        raise StoreError("is an SQLite database of another kind: give a path of its own")
    if version > newest:
        raise StoreError(f"has version {version}, this program knows up to {newest}: install the newer program again")
    return version


def migrate(db: sqlite3.Connection, application_id: int, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Take the steps this file still lacks, each in one transaction with its record in `user_version`.

    `db` is in autocommit mode. Raises StoreError as `version_of` does, and sqlite3.Error, leaving the file at
    the last whole step.
    """
    while True:
        db.execute("BEGIN IMMEDIATE")  # another process may be about to take the same step
        try:
            done = version_of(db, application_id, len(migrations))
            if done < len(migrations):
                for statement in migrations[done].statements:
                    db.execute(statement)
                if (fill := migrations[done].fill) is not None:
                    fill(db)
                db.execute(f"PRAGMA application_id = {application_id}")
                db.execute(f"PRAGMA user_version = {done + 1}")
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise
        if done >= len(migrations) - 1:
            return
