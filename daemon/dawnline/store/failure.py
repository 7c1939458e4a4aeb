"""What SQLite reports, in words for the keeper: the file, what is wrong, what to do."""

from __future__ import annotations

import errno
import os
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
CARD = "the card has become read-only, as it does after an error: check it, and start the machine anew"
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
# What a card says that takes nothing: full, with errors, read-only. The first are SQLite's, the second the system's.
_OF_THE_CARD = (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN)
_OF_THE_CARD_TOO = (errno.ENOSPC, errno.EIO, errno.EROFS, errno.EACCES, errno.EPERM)
# Half a character; 2^63 and more; nothing where something must be; more bytes than SQLite takes.
_UNFIT = (ValueError, OverflowError, sqlite3.IntegrityError, sqlite3.DataError)


def failure(path: Path, error: Exception) -> StoreError:
    """The StoreError for something that went wrong with the file at `path`."""
    if isinstance(error, _UNFIT):
        return UnfitError(f"store {path}: cannot hold a value that it was given ({error})")
    code = getattr(error, "sqlite_errorcode", None)
    remedy = _REMEDIES.get(code & 0xFF) if isinstance(code, int) else None
    if isinstance(code, int) and code & 0xFF == sqlite3.SQLITE_READONLY and on_a_read_only_card(path):
        remedy = CARD
    kind = DamagedStoreError if isinstance(code, int) and code & 0xFF in _DAMAGE else StoreError
    return kind(f"store {path}: {remedy} ({error})" if remedy else f"store {path}: {error}")


def on_a_read_only_card(path: Path) -> bool:
    """Whether the file system of `path` takes nothing."""
    try:
        return bool(os.statvfs(path.parent).f_flag & os.ST_RDONLY)
    except OSError:
        return False


def of_the_card(error: StoreError) -> bool:
    """Whether the card refuses it, and not the file as such: it may be readable all the same, and writable later."""
    cause = error.__cause__
    code = getattr(cause, "sqlite_errorcode", None)
    return code & 0xFF in _OF_THE_CARD if code is not None else getattr(cause, "errno", None) in _OF_THE_CARD_TOO


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Inside, whatever SQLite refuses becomes a StoreError that names `path`; UnfitError where it is for a value."""
    try:
        yield
    except StoreError as error:
        raise type(error)(f"store {path}: {error}") from None
    except (sqlite3.Error, OSError, ValueError, OverflowError) as error:
        raise failure(path, error) from error
