"""The clock as a run of the service finds it, beside what the store knows of this boot and the one before."""

from __future__ import annotations

import json

import structlog

from dawnline.clock_settings import Trust
from dawnline.errors import StoreError
from dawnline.pipeline import Pipeline
from dawnline.service.boot_clock import BootClock, BootedMachine
from dawnline.service.clock import PondClock
from dawnline.service.pending import checkpoint_of
from dawnline.store.batch import Batch
from dawnline.store.provisional import Stretch
from dawnline.store.store import Store

_log = structlog.get_logger(__name__)


def start_clock(store: Store, clock: PondClock, machine: BootedMachine, trust: Trust) -> BootClock:
    """The clock to live by. What an earlier boot left undated goes into the record first: its hour stays unknown."""
    boot, stretch = machine.boot(), store.stretch()
    if stretch is not None and stretch.boot != boot:
        store.leave_undated()
        _log.warning("readings-left-undated", why="the power went before the clock was set")
        stretch = None
    record_end = store.cursor() if stretch is None else stretch.since - 1
    known_before = store.clock_set() == boot
    result = BootClock(clock, machine, trust, record_end, stretch, known_before=known_before)
    if result.stretch is None and not clock.scaled and not known_before:
        try:
            store.commit(Batch(clock_set=boot))
        except StoreError as error:  # a start within this boot asks the machine again; the core says what is wrong
            _log.warning("start-not-noted", why=str(error))
    return result


def begin_stretch(pipeline: Pipeline, store: Store, stretch: Stretch) -> tuple[Batch, StoreError] | None:
    """From now on time is provisional. The checkpoint of this moment is kept until the stretch is dated.

    Where the store does not take it, it is given back, with the reason: the core holds it as it holds what follows.
    """
    memory, kept = json.dumps(pipeline.alarm_memory()), checkpoint_of(pipeline)
    batch = Batch(cursor=stretch.since, alarm_memory=memory, checkpoint=kept, stretch=stretch)
    try:
        store.commit(batch)
    except StoreError as error:
        return batch, error
    finally:
        pipeline.begin_unset(stretch.since)
    return None
