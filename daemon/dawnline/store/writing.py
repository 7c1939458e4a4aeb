"""A batch, written row by row into the open transaction, in the order that `Batch` states."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from dawnline.store import forecasts, moves, outbox, provisional, rain, readings, record, state, storing
from dawnline.store.batch import Batch


def write(db: sqlite3.Connection, batch: Batch, ids: Mapping[str, int]) -> frozenset[str]:
    """Write it; `ids` are those of the probes. Returns which of its attempts may be made."""
    _add_readings(db, batch, ids)
    if batch.days:
        record.put_days(db, batch.days)
    if batch.forecasts:
        forecasts.put_forecasts(db, batch.forecasts)
    if batch.rain:
        rain.put_rain(db, batch.rain)
    if batch.transitions:
        record.add_transitions(db, batch.transitions)
    if batch.moves:
        moves.add_moves(db, batch.moves)
    if batch.acts:
        record.add_acts(db, batch.acts)
    if batch.storing:
        storing.add_storing(db, batch.storing)
    outbox.record_outcomes(db, batch.outcomes)
    outbox.add_letters(db, batch.letters, batch.in_flight)
    begun = outbox.begin_attempts(db, batch.attempts)
    if batch.cursor is not None:
        state.put_cursor(db, batch.cursor)
    for link, receipts in batch.receipts.items():
        state.put_receipts(db, link, state.pack_receipts(receipts))
    if batch.alarm_memory is not None:
        state.put_alarm_memory(db, batch.alarm_memory)
    if batch.checkpoint is not None:
        state.put_checkpoint(db, batch.checkpoint)
    if batch.clock_set is not None:
        state.put_clock_set(db, batch.clock_set)
    return begun


def _add_readings(db: sqlite3.Connection, batch: Batch, ids: Mapping[str, int]) -> None:
    stretch = batch.stretch
    if stretch is None:
        readings.add_readings(db, readings.rows_of(batch.readings, ids))
        return
    if provisional.get_stretch(db) != stretch:
        provisional.put_stretch(db, stretch)
    provisional.add_provisional(db, provisional.rows_of(batch.readings, ids, stretch.offset))
