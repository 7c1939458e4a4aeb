"""When a probe could not be believed, out of the record: while the alarm stood by which it is doubted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta, tzinfo

from dawnline.alarms.episodes import DOUBTED, Episode, episodes
from dawnline.duration import local_ms
from dawnline.event import Day
from dawnline.queries.standing_at import MOST_TRANSITIONS, standing_at
from dawnline.store.reader import Reader


def doubts_of(reader: Reader, start: int, end: int) -> list[Episode]:
    """Every doubt that stood at some time from `start` to before `end` [ms]. Raises StoreError as the reader does."""
    told = [*standing_at(reader, start), *reader.transitions(start, end, MOST_TRANSITIONS)]
    return [each for each in episodes(told) if each.alarm == DOUBTED]


def on_day(day: Day, doubts: Sequence[Episode], zone: tzinfo) -> bool:
    """Whether the probe of `day` was doubted at any time of it."""
    on = date.fromisoformat(day.date)
    start, end = local_ms(on, zone), local_ms(on + timedelta(days=1), zone)
    return any(each.probe == day.probe and each.within(start, end) for each in doubts)
