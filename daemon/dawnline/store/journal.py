"""What the pipeline saw after a given time, once more and in the same order."""

from __future__ import annotations

import heapq
import sqlite3
from collections.abc import Iterator, Sequence
from typing import TypeAlias

from dawnline.event import Act, Delivered, Storing
from dawnline.reading import Sample
from dawnline.store import provisional
from dawnline.store.outbox import outcomes_since
from dawnline.store.readings import samples_since
from dawnline.store.record import acts_since, storing_since

Seen: TypeAlias = Sample | Act | Delivered | Storing

# (received_at, kind, probe's position, at, n) and the event; no two are alike, so events are never compared
_Ordered: TypeAlias = tuple[int, int, int, int, int, Seen]


def journal_since(db: sqlite3.Connection, probes: Sequence[str], cursor: int) -> Iterator[tuple[int, Seen]]:
    """Each event after `cursor` (Unix ms) with its stamp, by stamp.

    Stamps are unique to a batch of one link, an act or an outcome. Within a batch: by probe in the order of
    `probes`, then by the sample's own time, then as they came. Should a stamp be shared after all: samples,
    acts, outcomes, what was said of the store. Probes not in `probes` are left out.
    """
    streams = [
        _samples(stream, place) for place, probe in enumerate(probes) for stream in samples_since(db, probe, cursor)
    ]
    for received_at, _, _, _, _, event in heapq.merge(
        *streams, _acts(db, cursor), _outcomes(db, cursor), _storing(db, cursor)
    ):
        yield received_at, event


def provisional_journal(db: sqlite3.Connection, stretch: provisional.Stretch, by: int) -> Iterator[Seen]:
    """Each event of a provisional stretch in the order it was seen, all of it `by` ms later, with all else at
    the times at which they stand in their tables (see `provisional.shift`). An act that was refused stays so, whatever
    the time is found to be.
    """
    found = provisional.samples(db, stretch.offset + by)
    numbered: Iterator[_Ordered] = ((sample.received_at, 0, seq, 0, 0, sample) for seq, sample in found)
    since = stretch.since + by - 1
    for *_, event in heapq.merge(numbered, _acts(db, since, refused=False), _outcomes(db, since), _storing(db, since)):
        yield event


def _samples(stream: Iterator[tuple[int, Sample]], place: int) -> Iterator[_Ordered]:
    for n, sample in stream:
        yield sample.received_at, 0, place, sample.at, n, sample


def _acts(db: sqlite3.Connection, cursor: int, *, refused: bool = True) -> Iterator[_Ordered]:
    for seq, row in acts_since(db, cursor):
        if row.accepted or refused:
            yield row.received_at, 1, seq, 0, 0, row.act


def _outcomes(db: sqlite3.Connection, cursor: int) -> Iterator[_Ordered]:
    for seq, outcome in outcomes_since(db, cursor):
        yield outcome.at, 2, seq, 0, 0, outcome


def _storing(db: sqlite3.Connection, cursor: int) -> Iterator[_Ordered]:
    for seq, said in storing_since(db, cursor):
        yield said.at, 3, seq, 0, 0, said
