"""Backup, check, restore and compacting of a store's file."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from dawnline.errors import StoreError
from dawnline.store.connection import (
    APPLICATION_ID,
    leave_to_owner,
    lock,
    open_reader,
    open_writer,
    quick_check,
)
from dawnline.store.failure import explained
from dawnline.store.inbox import APPLICATION_ID as INBOX_ID
from dawnline.store.inbox import inbox_path

_STATEMENTS = 100_000  # of SQLite's machine between two looks whether to stop


def backup(path: Path, target: Path) -> None:
    """Write a copy of the store at `path` to the new file `target`, while the service goes on.

    The copy is one moment's state, compact, and appears under its name only when it is whole. Raises
    StoreError, also where `target` exists.
    """
    with explained(target):
        if target.exists():
            raise StoreError("there is a file already: give the backup a new name")
    part = target.with_name(target.name + ".part")
    _copy(path, part)
    with explained(part):
        _put(part, target)


def verify(path: Path) -> None:
    """Read the whole store. Raises StoreError where it is damaged, missing, or no store."""
    with closing(open_reader(path, older=True)) as db, explained(path):
        quick_check(db)


def look_over(path: Path, stopped: Callable[[], bool]) -> None:
    """The same while the service goes on, until `stopped`: then it raises StoreError as well."""
    with closing(open_reader(path)) as db, explained(path):
        db.set_progress_handler(stopped, _STATEMENTS)
        quick_check(db)


def restore(copy: Path, path: Path) -> Path | None:
    """Put a backup in the place of the store at `path`; the service must be stopped.

    Returns where the store that stood there was moved to, with its log; None where there was none. Raises
    StoreError, changing nothing, where the backup is not whole or the store is in use. A power cut between
    the two renames leaves the old file under its new name and the backup as `.part`.
    """
    verify(copy)
    with lock(path):
        part = path.with_name(path.name + ".part")
        _copy(copy, part)
        with explained(path):
            leave_to_owner(part, path if path.exists() else path.parent)
            moved = _move_away(path)
            _put(part, path)
    return moved


def compact(path: Path) -> tuple[int, int]:
    """Write the file anew without its gaps; the service must be stopped. Returns bytes before and after.

    Needs as much free room as the file is large. Raises StoreError.
    """
    with lock(path), explained(path):
        if not path.exists():
            raise StoreError("there is no such file")
        before = path.stat().st_size
        with closing(open_writer(path)) as db:
            db.execute("VACUUM")
        return before, path.stat().st_size


def set_aside(path: Path, at: int) -> Path:
    """Give a damaged store, with its log, the name NAME.damaged-TIME.db; nothing is deleted. Returns the new path.

    `at` is Unix ms. Raises StoreError, changing nothing, where the file is not known for one of ours, or is in use.
    """
    with lock(path), explained(path):
        if not _bears(path, APPLICATION_ID) and not _bears(inbox_path(path), INBOX_ID):
            raise StoreError("it is damaged, and not known for a store of this program: move it away yourself")
        return move_aside(path, at)


def emptied(path: Path) -> bool:
    """Whether the store at `path` was cut down to nothing: beside a new one there is no inbox yet."""
    return path.is_file() and path.stat().st_size == 0 and _bears(inbox_path(path), INBOX_ID)


def _bears(path: Path, mark: int) -> bool:
    """Whether a file bears this mark ("application ID" in https://www.sqlite.org/fileformat.html, 1.3)."""
    with suppress(OSError), path.open("rb") as file:
        return file.read(72)[68:] == mark.to_bytes(4, "big")
    return False


def move_aside(path: Path, at: int) -> Path:
    """As `set_aside`, for the writer that holds the lock and knows the file for its own."""
    with explained(path):
        time = datetime.fromtimestamp(at / 1000, UTC).strftime("%Y%m%dT%H%M%SZ")
        number, aside = 1, path.with_name(f"{path.stem}.damaged-{time}.db")
        while aside.exists():
            number += 1
            aside = path.with_name(f"{path.stem}.damaged-{time}-{number}.db")
        _rename(path, aside)
    return aside


def damaged(path: Path) -> list[Path]:
    """The files that were set aside for damage beside the store at `path`, by name."""
    begin = f"{path.stem}.damaged-"
    return sorted(each for each in path.parent.glob("*.db") if each.name.startswith(begin))


def _copy(path: Path, part: Path) -> None:
    """One moment's state of a store, compact."""
    with closing(open_reader(path, older=True)) as db, explained(part):
        part.unlink(missing_ok=True)
        db.execute("VACUUM INTO ?", (str(part),))


def _move_away(path: Path) -> Path | None:
    if not path.exists():
        return None
    number = 1
    while (aside := path.with_name(f"{path.name}.replaced-{number}")).exists():
        number += 1
    _rename(path, aside)
    return aside


def _rename(path: Path, aside: Path) -> None:
    for ending in ("-wal", "-shm", ""):  # a log left behind would be taken for the new file's
        part = path.with_name(path.name + ending)
        if part.exists():
            part.rename(aside.with_name(aside.name + ending))


def _put(part: Path, target: Path) -> None:
    """Give a file its name once it is on the disk."""
    with closing(sqlite3.connect(part, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = WAL")
    for path in (part, part.parent):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        if path == part:
            part.rename(target)
