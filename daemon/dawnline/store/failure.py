"""What SQLite reports, in words for the keeper: the file, what is wrong, what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from dawnline.errors import DamagedStoreError, StoreError, UnfitError

# Primary result codes of https://www.sqlite.org/rescode.html
_REMEDIES = {
    sqlite3.SQLITE_FULL: "the disk is full: make room; nothing already recorded is lost",
    sqlite3.SQLITE_IOERR: "the disk does not read or write: check the card, then the system log",
    sqlite3.SQLITE_READONLY: "it may not be written: check the owner of the file and of its folder",
    sqlite3.SQLITE_PERM: "it may not be used: check the owner of the file and of its folder",
    sqlite3.SQLITE_CANTOPEN: "cannot be opened: check that its folder exists and this user may write there",
    sqlite3.SQLITE_BUSY: "another process holds it: stop that one, then try again",
    sqlite3.SQLITE_NOTADB: "it is no SQLite database: move it away, or give another path",
    sqlite3.SQLITE_CORRUPT: "it is damaged: move it away and put a backup in its place",
}
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
# Half a character; 2^63 and more; nothing where something must be; more bytes than SQLite takes.
_UNFIT = (ValueError, OverflowError, sqlite3.IntegrityError, sqlite3.DataError)


def failure(path: Path, error: Exception) -> StoreError:
    """The StoreError for something that went wrong with the file at `path`."""
    if isinstance(error, _UNFIT):
        return UnfitError(f"store {path}: cannot hold a value that it was given ({error})")
    code = getattr(error, "sqlite_errorcode", None)
    remedy = _REMEDIES.get(code & 0xFF) if isinstance(code, int) else None
    kind = DamagedStoreError if isinstance(code, int) and code & 0xFF in _DAMAGE else StoreError
    return kind(f"store {path}: {remedy} ({error})" if remedy else f"store {path}: {error}")


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Inside, whatever SQLite refuses becomes a StoreError that names `path`; UnfitError where it is for a value."""
    try:
        yield
    except StoreError as error:
        raise type(error)(f"store {path}: {error}") from None
    except (sqlite3.Error, OSError, ValueError, OverflowError) as error:
        raise failure(path, error) from error
