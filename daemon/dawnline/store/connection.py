"""Opening the file of one pond: for the one writer, or read-only for anybody else."""

from __future__ import annotations

import errno
import fcntl
import os
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO

from dawnline.errors import DamagedStoreError, StoreError
from dawnline.store.failure import CARD, explained, on_a_read_only_card
from dawnline.store.schema import MIGRATIONS, Migration, migrate, version_of

APPLICATION_ID = 0x64776E6C  # our mark in the file's header, so that another program's database is known for one

# 1024-byte pages: a commit a minute rewrites a few leaves, and small leaves are less to write.
# The write-ahead log is cut back to `journal_size_limit` after a reader that stayed long.
_WRITER = (
    "PRAGMA page_size = 1024",
    "PRAGMA busy_timeout = 5000",
    "PRAGMA temp_store = MEMORY",
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA journal_size_limit = 4194304",
)


def leave_to_owner(made: int | Path, like: Path) -> None:
    """What root has made belongs to whom `like` does: else the service, which is not root, could not write it."""
    if os.geteuid() == 0:
        with suppress(OSError):  # not every file system knows owners
            owner = like.stat()
            os.chown(made, owner.st_uid, owner.st_gid)


def lock(path: Path) -> IO[str]:
    """The lock of the one writer, held until the file returned is closed, or the process ends.

    It is a file of its own: closing any other handle of the database would drop SQLite's POSIX locks
    (https://www.sqlite.org/howtocorrupt.html, 2.2). Raises StoreError while another writer holds it.
    """
    beside = path.with_name(path.name + ".lock")
    try:
        held = beside.open("a", encoding="ascii")
        leave_to_owner(held.fileno(), path if path.exists() else path.parent)
    except OSError as error:
        remedy = (
            CARD if error.errno == errno.EROFS else "check that the folder exists and that this user may write there"
        )
        raise StoreError(f"store {path}: cannot create {beside.name} beside it ({error.strerror}): {remedy}") from error
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        held.close()
        raise StoreError(f"store {path}: another dawnline process writes it: stop that one first") from None
    return held


def open_writer(path: Path, *, check: bool = True, migrations: Sequence[Migration] = MIGRATIONS) -> sqlite3.Connection:
    """A connection for the one writer, the file created or brought up to date; the caller holds `lock`.

    `check` reads the whole file for damage first. Raises StoreError naming the file and the remedy.
    """
    with explained(path):
        not_too_small(path)
        db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        try:
            version_of(db, APPLICATION_ID, len(migrations))
            for pragma in _WRITER:
                db.execute(pragma)
            if check:
                quick_check(db)
            migrate(db, APPLICATION_ID, migrations)
        except BaseException:
            db.close()
            raise
    return db


def open_reader(path: Path, *, older: bool = False) -> sqlite3.Connection:
    """A read-only connection; in WAL mode it neither blocks the writer nor is blocked.

    `older` takes the store of an earlier program, too: for who copies it whole. Raises StoreError where the file is
    missing, no store, or not at this program's version.
    """
    with explained(path):
        not_too_small(path)
        if not path.exists():
            raise StoreError("there is no such file: check [store] path, or start the service first")
        address = path.absolute().as_uri()
        try:
            return _reading(f"{address}?mode=ro", older=older)
        except sqlite3.OperationalError:
            if not _frozen(path):
                raise
        return _reading(f"{address}?immutable=1", older=older)


def _reading(address: str, *, older: bool) -> sqlite3.Connection:
    db = sqlite3.connect(address, uri=True, isolation_level=None, check_same_thread=False)
    try:
        db.execute("PRAGMA busy_timeout = 5000")
        _readable(db, older=older)
    except BaseException:
        db.close()
        raise
    return db


def _frozen(path: Path) -> bool:
    """Whether nobody can write the file, and all is in it: SQLite wants an index of the log beside it, which cannot be
    made on a read-only card, and there is no log.
    """
    log = path.with_name(path.name + "-wal")
    return on_a_read_only_card(path) and not (log.exists() and log.stat().st_size)


def open_unwritable(path: Path) -> sqlite3.Connection:
    """As `open_reader`, for the writer of a card that takes nothing; an empty one in memory where there is no file."""
    if path.exists():
        return open_reader(path)
    db = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    migrate(db, APPLICATION_ID)
    return db


def not_too_small(path: Path) -> None:
    """Raise DamagedStoreError (without the file's name) for a short text: SQLite would take it for an empty file."""
    if path.is_file() and 0 < path.stat().st_size < 512:  # the smallest page of the file format
        raise DamagedStoreError("it is no SQLite database: move it away, or give another path")


def _readable(db: sqlite3.Connection, *, older: bool) -> None:
    found = version_of(db, APPLICATION_ID, len(MIGRATIONS))
    if older and not found:
        raise StoreError("there is nothing in it")
    if not older and found < len(MIGRATIONS):
        raise StoreError("is from an older program: start the service once, it brings the store up to date")


def quick_check(db: sqlite3.Connection) -> None:
    """Read the whole file for damage. Raises StoreError (without the file's name)."""
    found = str(db.execute("PRAGMA quick_check(1)").fetchone()[0])
    if found != "ok":
        raise DamagedStoreError(f"it is damaged: move it away and put a backup in its place ({found})")
