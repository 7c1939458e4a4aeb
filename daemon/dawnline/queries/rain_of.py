"""The rain of a stretch of time out of a store: the gauge's and the logbook's, none of it counted twice."""

from __future__ import annotations

from collections.abc import Iterable

from dawnline.event import Act
from dawnline.outlook.rain_book import SPEAKS_OF_MS, Fell, by_hand, counted
from dawnline.settings import Settings
from dawnline.store.reader import Reader


def rain_of(reader: Reader, settings: Settings, done: Iterable[Act], start: int, end: int) -> list[Fell]:
    """What fell in start <= at < end [ms]; `done` are the acts as they stand. Raises StoreError as the reader does."""
    around = start - 2 * SPEAKS_OF_MS, end + SPEAKS_OF_MS
    said = [] if settings.gauge is None else reader.rain(settings.gauge, *around)
    entries = [(at, mm) for at, mm in by_hand(done) if around[0] <= at < around[1]]
    found = counted([(each.start, each.end, each.mm) for each in said], entries)
    return [each for each in found if start <= each.at < end]
