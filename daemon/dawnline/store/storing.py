"""What was said of the store itself: kept with what it could not take, once it could."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator

from dawnline.event import Storing


def add_storing(db: sqlite3.Connection, said: Iterable[Storing]) -> None:
    """Append what was said."""
    db.executemany(
        "INSERT INTO storing (at, trouble, grave) VALUES (?,?,?)",
        [(each.at, each.trouble, each.grave) for each in said],
    )


def storing_since(db: sqlite3.Connection, cursor: int) -> Iterator[tuple[int, Storing]]:
    """What was said after `cursor` (Unix ms), in order, each with its sequence number."""
    found = db.execute("SELECT seq, at, trouble, grave FROM storing WHERE at > ? ORDER BY at, seq", (cursor,))
    for seq, at, trouble, grave in found:
        yield seq, Storing(at, trouble, bool(grave))
