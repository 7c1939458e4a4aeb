"""Alarms that stood already when a stretch of time began."""

from __future__ import annotations

from typing import Final

from dawnline.alarms.episodes import episodes
from dawnline.duration import DAY_MS
from dawnline.event import Transition
from dawnline.store.reader import Reader

BACK_MS: Final = 92 * DAY_MS  # one that has stood for longer is no news: the list of alarms has it
MOST_TRANSITIONS: Final = 100_000


def standing_at(reader: Reader, start: int) -> list[Transition]:
    """The transitions before `start` [ms] of every episode that had not ended by then."""
    before = reader.transitions(start - BACK_MS, start, MOST_TRANSITIONS)
    still = {each.id for each in episodes(before) if each.ended_at is None}
    return [each for each in before if each.id in still]
