"""What the service must find again after a power cut: cursor, receipts, alarm memory, checkpoint."""

from __future__ import annotations

import sqlite3
import struct
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeAlias

Receipt: TypeAlias = tuple[int, bytes]
"""An MQTT packet id (0..65535) and 8 bytes of a digest of topic and payload."""

CURSOR = "cursor"  # the pond time [Unix ms] up to which the pipeline has stepped
ALARM_MEMORY = "alarm memory"
CLOCK_SET = "clock set"  # the last boot whose clock was known to be set

_RECEIPT = struct.Struct(">H8s")
_PUT = "INSERT INTO state (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value"


@dataclass(frozen=True, slots=True)
class StoredCheckpoint:
    """The whole state of the pipeline as text. `cursor` is the last event time (Unix ms) it stands for."""

    version: int
    cursor: int
    text: str


def put(db: sqlite3.Connection, key: str, value: int | str | bytes) -> None:
    """Record a value under its name, in place of what stood there."""
    db.execute(_PUT, (key, value))


def get(db: sqlite3.Connection, key: str) -> Any:
    """A value by its name; None where there is none."""
    row = db.execute("SELECT value FROM state WHERE key = ?", (key,)).fetchone()
    return None if row is None else row[0]


def put_receipts(db: sqlite3.Connection, link: str, receipts: Iterable[Receipt]) -> None:
    """Record what one link has taken and not yet acknowledged, 10 bytes each, in place of what stood there.

    Raises ValueError for a packet id or a digest of another size.
    """
    packed = bytearray()
    for mid, digest in receipts:
        if not 0 <= mid <= 0xFFFF or len(digest) != 8:
            raise ValueError(f"a receipt is a packet id of 16 bits and 8 bytes, found {mid} and {len(digest)} bytes")
        packed += _RECEIPT.pack(mid, digest)
    put(db, f"receipts {link}", bytes(packed))


def get_receipts(db: sqlite3.Connection, link: str) -> list[Receipt]:
    """What one link had taken and not yet acknowledged."""
    return [(mid, digest) for mid, digest in _RECEIPT.iter_unpack(get(db, f"receipts {link}") or b"")]


def put_checkpoint(db: sqlite3.Connection, checkpoint: StoredCheckpoint) -> None:
    """Record a checkpoint in place of the last; it is compressed, since it is the largest thing written."""
    packed = zlib.compress(checkpoint.text.encode("utf-8"), 6)
    db.execute(
        "INSERT OR REPLACE INTO checkpoint (id, version, cursor, packed) VALUES (0, ?, ?, ?)",
        (checkpoint.version, checkpoint.cursor, packed),
    )


def get_checkpoint(db: sqlite3.Connection) -> StoredCheckpoint | None:
    """The last checkpoint; None where there is none, or none that can be unpacked."""
    row = db.execute("SELECT version, cursor, packed FROM checkpoint").fetchone()
    if row is None:
        return None
    try:
        return StoredCheckpoint(row[0], row[1], zlib.decompress(row[2]).decode("utf-8"))
    except (zlib.error, UnicodeDecodeError):
        return None
