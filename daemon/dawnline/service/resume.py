"""Starting where the last run ended: checkpoint, then the journal since, with effects muted.

The fold is exact, so this gives the memory of the last commit again. The alarm memory of that commit is the authority
on episodes all the same: where the two differ (another program version decided otherwise), it wins, so that no alarm is
raised twice or forgotten.

In a provisional stretch the checkpoint is that of its beginning, and what came since is folded at provisional times.
"""

from __future__ import annotations

import json
from typing import Any, Final

import structlog

from dawnline.alarms.desk import Desk
from dawnline.duration import DAY_MS
from dawnline.logbook.acts import AMENDING, HELD, RECALLED
from dawnline.logbook.ledger import standing
from dawnline.pipeline import Pipeline
from dawnline.service.fold import make_pipeline
from dawnline.settings import Settings
from dawnline.store.store import Store

REBUILD_MS: Final = 21 * DAY_MS  # how far back a lost checkpoint is rebuilt from the record

_log = structlog.get_logger(__name__)


def resume(settings: Settings, store: Store) -> Pipeline:
    """The pipeline as it stood at the last commit; a new one for a new store."""
    cursor, stretch = store.cursor(), store.stretch()
    if stretch is None:
        pipeline = dated_pipeline(settings, store, cursor)
    else:
        pipeline = dated_pipeline(settings, store, stretch.since - 1)
        pipeline.begin_unset(stretch.since)
        for event in store.provisional_journal(stretch):
            pipeline.step(event)
        pipeline.advance(cursor or stretch.since)
    if cursor is not None:
        _take_alarm_memory(pipeline, store)
        _log.info("resumed", open_alarms=len(pipeline.desk.active()))
    pipeline.kept()
    return pipeline


def dated_pipeline(settings: Settings, store: Store, end: int | None) -> Pipeline:
    """The pipeline as it stood at `end` [ms], the end of the dated record; a new one where there is none."""
    if end is None:
        return make_pipeline(settings)
    pipeline, since = _from_checkpoint(settings, store)
    if pipeline is None:
        pipeline, since = make_pipeline(settings), end - REBUILD_MS
        pipeline.recall(store.accepted_acts(since, RECALLED))
        _log.warning("state-rebuilt-from-the-record", days=REBUILD_MS // DAY_MS)
    for at, event in store.journal_since(since):
        if at > end:  # acts of a provisional stretch
            break
        pipeline.step(event)
    if pipeline.now:  # not in a store that has no dated record
        pipeline.advance(end)
    return pipeline


def _from_checkpoint(settings: Settings, store: Store) -> tuple[Pipeline | None, int]:
    checkpoint = store.checkpoint()
    if checkpoint is None:
        return None, 0
    pipeline = make_pipeline(settings)
    try:
        pipeline.restore(saved := json.loads(checkpoint.text))
    except (ValueError, RecursionError) as error:
        _log.warning("checkpoint-unreadable", error=str(error))
        return None, 0
    # A probe that was away from the configuration for a while reads as it was calibrated before.
    back = pipeline.watches.keys() - saved["watches"].keys()
    if back:
        done = standing(store.accepted_acts(checkpoint.cursor, (*HELD, *AMENDING)))
        pipeline.recall(act for act in done if act.body.get("probe") in back)
    return pipeline, checkpoint.cursor


def _take_alarm_memory(pipeline: Pipeline, store: Store) -> None:
    text = store.alarm_memory()
    if text is None:
        return
    desk = pipeline.desk
    stored = Desk(desk.catalogue, desk.zone)
    try:
        memory = json.loads(text)
        stored.restore(memory)
        if "telling" in memory:  # who was told what is as it was, whoever is configured now
            pipeline.telling.restore(memory["telling"])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        _log.error("alarm-memory-unreadable", error=str(error))
        return
    if _essence(stored) != _essence(desk):
        _log.warning("alarm-memory-differs", stored=_essence(stored), replayed=_essence(desk))
        desk.memory, desk.next_id = stored.memory, max(stored.next_id, desk.next_id)


def _essence(desk: Desk) -> list[Any]:
    """What must not be lost: which episodes there are, and in which state."""
    episodes = [
        [alarm, probe or "", memory.state_name, memory.id or 0, memory.ended, memory.timing.active]
        for (alarm, probe), memory in desk.memory.items()
        if memory.id is not None or memory.state_name != "NORMAL"
    ]
    return [desk.next_id, sorted(episodes, key=str)]
