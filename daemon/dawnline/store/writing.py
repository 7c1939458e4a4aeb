"""A batch, written row by row into the open transaction, in the order that `Batch` states."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dawnline.store import outbox, provisional, readings, record, state
from dawnline.store.batch import Batch


def write(db: sqlite3.Connection, batch: Batch, ids: Mapping[str, int]) -> frozenset[str]:
    """Write it; `ids` are those of the probes. Returns which of its attempts may be made."""
    _add_readings(db, batch, ids)
    puts: tuple[tuple[Sequence[Any], Callable[[sqlite3.Connection, Any], None]], ...] = (
        (batch.days, record.put_days),
        (batch.forecasts, record.put_forecasts),
        (batch.rain, record.put_rain),
        (batch.transitions, record.add_transitions),
        (batch.moves, record.add_moves),
        (batch.acts, record.add_acts),
        (batch.storing, record.add_storing),
        (batch.outcomes, outbox.record_outcomes),
    )
    for rows, put in puts:
        if rows:
            put(db, rows)
    outbox.add_letters(db, batch.letters, batch.in_flight)
    begun = outbox.begin_attempts(db, batch.attempts)
    for key, value in (
        (state.CURSOR, batch.cursor), (state.ALARM_MEMORY, batch.alarm_memory), (state.CLOCK_SET, batch.clock_set),
    ):  # fmt: skip
        if value is not None:
            state.put(db, key, value)
    for link, receipts in batch.receipts.items():
        state.put_receipts(db, link, receipts)
    if batch.checkpoint is not None:
        state.put_checkpoint(db, batch.checkpoint)
    return begun


def _add_readings(db: sqlite3.Connection, batch: Batch, ids: Mapping[str, int]) -> None:
    stretch = batch.stretch
    if stretch is None:
        readings.add_readings(db, readings.rows_of(batch.readings, ids))
        return
    if provisional.get_stretch(db) != stretch:
        provisional.put_stretch(db, stretch)
    provisional.add_provisional(db, provisional.rows_of(batch.readings, ids, stretch.offset))
