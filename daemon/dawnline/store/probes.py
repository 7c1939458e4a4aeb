"""The probes of a store: a name is one quantity for ever, and stands in the readings as a small number."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from dawnline.errors import StoreError


def known_probes(db: sqlite3.Connection) -> dict[str, str]:
    """Quantity by name, of every probe that ever wrote here, in the order they were first named."""
    return dict(db.execute("SELECT name, quantity FROM probes ORDER BY id").fetchall())


def known_ids(db: sqlite3.Connection, probes: Sequence[tuple[str, str]]) -> dict[str, int]:
    """Ids of the probes that ever wrote here. Raises StoreError as `register` does."""
    known = known_probes(db)
    for name, quantity in probes:
        if known.get(name, quantity) != quantity:
            raise StoreError(
                f"probe {name!r} has readings of {known[name]} here, and is configured as {quantity}: "
                "give the new probe a name of its own"
            )
    return dict(db.execute("SELECT name, id FROM probes").fetchall())


def register(db: sqlite3.Connection, probes: Sequence[tuple[str, str]]) -> dict[str, int]:
    """Ids of the probes, given as (name, quantity); a new name gets the next id, from 0.

    Raises StoreError (without the file's name) for a name that stood for another quantity: the record would
    mix two kinds of number.
    """
    known_ids(db, probes)
    for name, quantity in dict(probes).items():
        db.execute(
            "INSERT INTO probes (id, name, quantity) "
            "SELECT ifnull(max(id) + 1, 0), ?, ? FROM probes WHERE true ON CONFLICT (name) DO NOTHING",
            (name, quantity),
        )
    return known_ids(db, probes)
