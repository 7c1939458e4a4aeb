"""What one commit holds: one or more whole steps of the pipeline, never part of one."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from dawnline.event import Day, Delivered, Forecast, Moved, Rainfall, Storing, Transition
from dawnline.letter import Letter
from dawnline.reading import Reading
from dawnline.store.provisional import Stretch
from dawnline.store.record import ActRow
from dawnline.store.state import Receipt, StoredCheckpoint


@dataclass(frozen=True, slots=True)
class Batch:
    """Everything of it is stored, or nothing. What is left out stays as it is in the store.

    They are applied in this order: `outcomes`, then `letters` (a new letter supersedes the open ones of its
    episode and address, except those `in_flight`), then `attempts` (keys of letters about to be sent; one
    superseded by this same batch is not begun). `cursor` is the time (Unix ms) of the last event stepped.
    `receipts` are by link name, each list in place of the one before. `stretch` is given while the clock is not
    known to be set: the readings wait to be dated, and all times are provisional. `clock_set` names the boot whose
    clock is known to be set.
    """

    readings: Sequence[Reading] = ()
    days: Sequence[Day] = ()
    forecasts: Sequence[Forecast] = ()
    rain: Sequence[Rainfall] = ()
    transitions: Sequence[Transition] = ()
    moves: Sequence[Moved] = ()
    acts: Sequence[ActRow] = ()
    outcomes: Sequence[Delivered] = ()
    letters: Sequence[Letter] = ()
    in_flight: Collection[str] = ()
    attempts: Sequence[str] = ()
    cursor: int | None = None
    receipts: Mapping[str, Sequence[Receipt]] = field(default_factory=dict)
    alarm_memory: str | None = None
    checkpoint: StoredCheckpoint | None = None
    stretch: Stretch | None = None
    clock_set: str | None = None
    storing: Sequence[Storing] = ()
