"""The day that has not ended yet: from the checkpoint and what came since, else folded anew from the store."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from heapq import merge

from dawnline.duration import DAY_MS, local_ms
from dawnline.electrode.calibration import IDEAL
from dawnline.event import Act, Day
from dawnline.logbook.acts import AMENDING, HELD
from dawnline.logbook.ledger import standing
from dawnline.pipeline import Pipeline
from dawnline.reading import Reason, Sample
from dawnline.service.fold import make_pipeline
from dawnline.settings import Settings
from dawnline.store.reader import Reader


def with_the_running_day(reader: Reader, settings: Settings, days: list[Day], newest: int, today: date) -> list[Day]:
    """`days` and, where it is not among them, the day that has not ended yet; `newest` is its last reading [ms]."""
    if any(day.date == today.isoformat() for day in days):
        return days
    pipeline = _remembered(reader, settings, newest)
    ended = _anew(reader, settings, newest, today) if pipeline is None else pipeline.finish()
    return days + [day for day in ended if isinstance(day, Day) and day.date == today.isoformat()]


def _remembered(reader: Reader, settings: Settings, newest: int) -> Pipeline | None:
    """The pipeline as it stands at the end of the record; None without a checkpoint of this program not long ago."""
    checkpoint = reader.checkpoint()
    if checkpoint is None or newest - checkpoint.cursor > DAY_MS or reader.stretch() is not None:
        return None
    pipeline = make_pipeline(settings)
    try:
        pipeline.restore(json.loads(checkpoint.text))
    except (ValueError, RecursionError):
        return None
    for event in reader.journal_since([probe.name for probe in settings.probes], checkpoint.cursor):
        pipeline.step(event)
    return pipeline


def _anew(reader: Reader, settings: Settings, newest: int, today: date) -> list[object]:
    """From the day's readings and acts; from the evening before on, for the smoothing."""
    start = local_ms(today, settings.pond.zone) - DAY_MS // 4
    before = standing(reader.accepted_acts(start, (*HELD, *AMENDING)))
    since = reader.done(start + 1, newest + 1)
    running: list[object] = []
    for probe in settings.probes:
        if probe.quantity in IDEAL:
            pipeline = make_pipeline(settings)
            pipeline.recall(before)
            named = [name for name in (probe.temperature, probe.name) if name is not None]
            streams = [_samples(reader, name, start, newest + 1) for name in named]
            for event in merge(iter(since), *streams, key=_stamp):
                pipeline.step(event)
            running += [day for day in pipeline.finish() if isinstance(day, Day) and day.probe == probe.name]
    return running


def _samples(reader: Reader, name: str, start: int, end: int) -> Iterator[Sample | Act]:
    for each in reader.readings(name, start, end):
        yield Sample(each.probe, each.at, each.value, each.received_at, each.reason is not Reason.UNDATED)


def _stamp(event: Sample | Act) -> int:
    return event.received_at if isinstance(event, Sample) else event.at
