"""The present as the command line sees it: from `now.json` of a running service, else from the store."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from dawnline.duration import HOUR_MS, show_duration
from dawnline.logbook.acts import RECALLED
from dawnline.outlook.ph_watch import PhWatch
from dawnline.pipeline import Pipeline
from dawnline.probes.settings import ProbeSettings
from dawnline.reading import Flag
from dawnline.service import now_file
from dawnline.service.clock import wall_s
from dawnline.settings import Settings
from dawnline.store.outbox import GIVEN_UP_SHOWN_MS, SHOWN
from dawnline.store.reader import Reader

KEYS: Final = frozenset(("pond", "time", "probes", "today", "alarms", "links"))  # what another version may lack


@dataclass(frozen=True, slots=True)
class Present:
    """`data` has the keys of `now.json`; `age_s` is how old it is [s of machine time], None where it is the store's."""

    data: dict[str, Any]
    running: bool
    age_s: float | None

    @property
    def clock_set(self) -> bool:
        """Whether the clock is known to be set; where no service says, it is taken for that."""
        return not self.running or bool(self.data.get("clock_set", True))

    def headline(self) -> str:
        """One line: which pond, when, and whether anybody watches."""
        if self.running:
            return f"{self.data['pond']}, {_moment(self.data['time'])} (written {self.age_s:.0f} s ago)"
        if self.age_s is not None:
            old = show_duration(self.age_s * 1000)
            return f"{self.data['pond']}: NOBODY WATCHES: the service last wrote {old} ago; as it was then:"
        ends = _moment(self.data["time"]) if self.data["time"] else "before it began"
        return f"{self.data['pond']}: the service is not running; the record ends {ends}"


def _moment(time: str) -> str:
    return f"{datetime.fromisoformat(time):%a %Y-%m-%d %H:%M:%S}"


def find_present(settings: Settings) -> Present:
    """The present of this pond. Raises StoreError where there is neither a service nor a store."""
    return find_written(settings) or Present(_from_store(settings), running=False, age_s=None)


def find_written(settings: Settings) -> Present | None:
    """The present as a service has written it last; None where none has, or one of another version."""
    data = now_file.read(settings.store.path)
    if data is None or not data.keys() >= KEYS:
        return None
    return Present(data, now_file.is_current(data), wall_s() - data["written_at"])


def _from_store(settings: Settings) -> dict[str, Any]:
    """The same keys, from what was committed last."""
    from dawnline.service.snapshot import snapshot

    with Reader.open(settings.store.path) as reader:
        cursor = reader.cursor()
        now = cursor or 0
        pipeline = _recalled(reader, settings, now)
        night, buffer = _foreseen(reader, now)
        outbox, given_up = reader.outbox(), reader.given_up(now - GIVEN_UP_SHOWN_MS, SHOWN)
    pipeline.buffer.latest = buffer
    data = {**snapshot(pipeline, settings), "tonight": night, "buffer": buffer}
    for said in data["probes"].values():
        said.pop("nights_wanting", None)  # the nights known are the running service's memory
    if cursor is None:
        data["time"] = None
    post = {
        "open": outbox.get("waiting", 0) + outbox.get("trying", 0),
        "failing": {},
        "given_up": [each._asdict() for each in given_up],
    }
    return {"pond": settings.pond.name, **data, "links": [], "post": post}


def _recalled(reader: Reader, settings: Settings, now: int) -> Pipeline:
    """A pipeline with the alarms, newest readings and acts of the record, which ends at `now` [ms]; no days."""
    from dawnline.service.fold import make_pipeline

    pipeline = make_pipeline(settings)
    memory, stretch = reader.alarm_memory(), reader.stretch()
    if memory is not None:
        pipeline.desk.restore(kept := json.loads(memory))
        if "telling" in kept:
            pipeline.telling.restore(kept["telling"])
    for name, watch in pipeline.watches.items():
        latest = (reader.latest_provisional(name) if stretch else None) or reader.latest(name)
        watch.newest = None if latest is None else (latest.at, latest.value, int(latest.flag))
    pipeline.recall(reader.accepted_acts(now, RECALLED))
    pipeline.reminders.begin(min((first for first, _ in reader.span().values()), default=now))
    pipeline.now = now
    for probe in settings.probes:
        _warm(pipeline, probe)
    pipeline.unset.since = stretch and stretch.since
    return pipeline


def _foreseen(reader: Reader, now: int) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The forecasts of a night that was under way at `now` [ms], one a probe, and what the last morning said."""
    nights = {each.body["probe"]: dict(each.body) for each in reader.forecasts("tonight", now - HOUR_MS, now + 1)}
    buffer = reader.last_forecast("buffer", now)
    return list(nights.values()), {} if buffer is None else {**buffer.body, **buffer.evidence}


def _warm(pipeline: Pipeline, probe: ProbeSettings) -> None:
    """What a pH probe was compensated for last, and whether it is to be calibrated."""
    watch = pipeline.watches[probe.name]
    if isinstance(watch, PhWatch):
        watch.electrode.look(pipeline.now)
    newest = pipeline.watches[probe.temperature].newest if probe.temperature else None
    if isinstance(watch, PhWatch) and newest is not None and newest[2] == Flag.GOOD:
        watch.electrode.warm(newest[0], newest[1])
