"""Dating: the clock is known, and what was provisional gets its true times, all in one transaction.

The pipeline is built anew from the checkpoint that was kept when the provisional stretch began, and sees its events
once more at their true times: its readings with their flags, the days that ended and what it would have foreseen are
what goes into the record.
Alarms were raised already: who was told what stays as it was, with its times moved along.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

import structlog

from dawnline.alarms.desk import Desk
from dawnline.alarms.ledger import Key
from dawnline.errors import StoreError
from dawnline.event import Tick
from dawnline.pipeline import Pipeline
from dawnline.probes.intake import Batch, Item
from dawnline.service.pending import Pending, checkpoint_of
from dawnline.store.batch import Batch as StoreBatch
from dawnline.store.journal import Seen
from dawnline.store.provisional import ROWS_AT_ONCE, Stretch
from dawnline.store.store import Store

_TIMES: Final = ("since", "shelved_until", "suppressed_until", "out_until")
_CLOCKWORK: Final = ("met_since", "met_seen", "clear_since")

_log = structlog.get_logger(__name__)


def date(
    store: Store, stretch: Stretch, live: Pipeline, dated: Pipeline, *, by: int, alive: Callable[[], None]
) -> None:
    """Put the stretch into the record, `by` ms later than it was provisionally.

    `live` is the pipeline of the provisional stretch, `dated` the one that ends with the dated record: it is taken
    along to the present. `alive` is called now and then, for this may take minutes.
    """
    before = {(alarm, probe): memory for alarm, probe, memory in dated.desk.save()["memory"]}
    count = 0

    def fold(events: Iterator[Seen]) -> Iterator[StoreBatch]:
        nonlocal count
        found = Pending()
        for event in events:
            found.take(dated.step(event))
            if len(found.readings) >= ROWS_AT_ONCE:
                count += len(found.readings)
                yield StoreBatch(readings=found.readings, days=found.days, forecasts=found.forecasts, rain=found.rain)
                found = Pending()
                alive()
        found.take(dated.advance(live.now + by))
        _carry_over(live.desk, dated.desk, before, stretch.since, by)
        live.telling.shift(stretch.since, by)
        dated.telling.restore(live.telling.save())
        dated.reminding.restore(live.reminding.save())  # what came due meanwhile was told to nobody
        count += len(found.readings)
        yield StoreBatch(
            readings=found.readings, days=found.days, forecasts=found.forecasts, rain=found.rain, cursor=dated.now,
            alarm_memory=json.dumps(dated.alarm_memory()), checkpoint=checkpoint_of(dated), clock_set=stretch.boot,
        )  # fmt: skip

    saved = live.desk.save(), live.telling.save()
    try:
        store.date(by, fold)
    except StoreError:  # the live pipeline goes on as it was
        live.desk.restore(saved[0])
        live.telling.restore(saved[1])
        raise
    _log.info("readings-dated", readings=count)


def earlier(item: Item | Tick, by: int) -> Item | Tick:
    """What was stamped `by` ms too late for a stretch that could not be dated yet, at its provisional time.

    A sender's own time stays.
    """
    if not isinstance(item, Batch):
        return item._replace(at=item.at - by) if isinstance(item, Tick) else replace(item, at=item.at - by)
    samples = tuple(
        each._replace(received_at=each.received_at - by, at=each.at - by if each.at == each.received_at else each.at)
        for each in item.samples
    )
    return item._replace(at=item.at - by, samples=samples)


def _carry_over(live: Desk, dated: Desk, before: Mapping[Key, Mapping[str, Any]], since: int, by: int) -> None:
    """The alarms as they are live, at true times. A time that stood in the dated record stays where it was."""
    for key, memory in live.memory.items():
        old: Mapping[str, Any] = before.get(key, {"timing": {}})
        for owner, saved, names in ((memory, old, _TIMES), (memory.timing, old["timing"], _CLOCKWORK)):
            for name in names:
                at = getattr(owner, name)
                if at is not None and at >= since and at != saved.get(name):
                    setattr(owner, name, at + by)
    dated.memory, dated.next_id, dated.changed = live.memory, live.next_id, True
