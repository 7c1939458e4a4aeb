"""Some room kept beside the store, to be given up on a full card: without 32 KB for SQLite's index of its log (the -shm
file) no start succeeds, not even one that only watches.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

ROOM_BYTES: Final = 65_536


def keep(path: Path) -> None:
    """See that the spare room of the store at `path` is there; where there is none to be had, that is all right."""
    spare = _spare(path)
    try:
        if not spare.exists():
            spare.write_bytes(bytes(ROOM_BYTES))
    except OSError:
        spend(path)


def spend(path: Path) -> bool:
    """Give the room up; whether there was any."""
    try:
        _spare(path).unlink()
    except OSError:
        return False
    return True


def _spare(path: Path) -> Path:
    return path.with_name(path.name + ".spare")
