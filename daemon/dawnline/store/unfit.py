"""What SQLite cannot hold: an integer beyond 64 bits, text with half a character, nothing where something must be.

Whoever hands such a thing in is told so at the door. Should one come by another way all the same, it is parted from the
rest of its batch: nothing else may wait for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Any, Final

from dawnline.errors import UnfitError
from dawnline.store.batch import Batch

_ROWS: Final = (
    "readings", "days", "forecasts", "rain", "transitions", "moves", "acts", "storing", "outcomes", "letters",
)  # fmt: skip


def parted(batch: Batch, tried: Callable[[Batch], None]) -> tuple[Batch, list[Any]]:
    """The batch without the rows that cannot be stored, and those rows.

    `tried` stores a batch and takes it back; it raises UnfitError. What else it raises is passed on.
    """
    fit, unfit = dict[str, Any](), list[Any]()
    for name in _ROWS:
        rows = getattr(batch, name)
        found = _unfit(rows, partial(_alone, tried, batch, name))
        if found:
            fit[name] = [row for row in rows if not any(row is each for each in found)]
            unfit += found
    return replace(batch, **fit), unfit


def _alone(tried: Callable[[Batch], None], batch: Batch, name: str, rows: Sequence[Any]) -> None:
    alone: dict[str, Any] = {name: rows}
    tried(Batch(**alone, stretch=batch.stretch))


def _unfit(rows: Sequence[Any], tried: Callable[[Sequence[Any]], None]) -> list[Any]:
    """Those of the rows that cannot be stored, by halves."""
    if not rows:
        return []
    try:
        tried(rows)
    except UnfitError:
        half = len(rows) // 2
        return [*_unfit(rows[:half], tried), *_unfit(rows[half:], tried)] if half else list(rows)
    return []
