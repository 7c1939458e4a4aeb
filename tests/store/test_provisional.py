"""Readings that wait to be dated: kept beside the record, moved into it whole or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from dawnline.errors import StoreError
from dawnline.event import Act, Delivered, Event, Moved, Transition
from dawnline.reading import Flag, Reading, Reason, Sample
from dawnline.store.batch import Batch
from dawnline.store.provisional import ROWS_AT_ONCE, Stretch
from dawnline.store.reader import Reader
from dawnline.store.record import ActRow
from dawnline.store.schema import MIGRATIONS
from dawnline.store.store import Store

from .kept import reading

STRETCH = Stretch("boot-2", since=1_001, offset=900)


def transition(at: int, since: int) -> Transition:
    return Transition(1, at, since, "ph-low", "raised", "high", "ph", 6.3, "low")


@pytest.fixture
def waiting(store: Store) -> Store:
    """A dated reading, then a stretch with two commits."""
    store.commit(Batch(readings=[reading("ph", 1000, 7.0)], cursor=1000))
    store.commit(
        Batch(
            readings=[reading("ph", 1010, 7.1), reading("water", 1010, 18.0), reading("ph", 77, 7.2, 1020)],
            acts=[ActRow(Act("a", 1015, "note", {"note": "x"}), True, "noted", 1015)],
            transitions=[transition(1016, 990), transition(1017, 1011)],
            moves=[Moved(1016, "ph-low", "ph", 1, "occur", "normal", "unacknowledged", "high")],
            cursor=1020,
            stretch=STRETCH,
        )
    )
    undated = Reading("ph", 1030, 7.3, 1030, Flag.NOT_EVALUATED, Reason.UNDATED)
    store.commit(Batch(readings=[undated], outcomes=[Delivered("k", 1025, "dead")], cursor=1030, stretch=STRETCH))
    return store


def test_they_are_not_in_the_record(waiting: Store, path: Path) -> None:
    with Reader.open(path) as reader:
        assert [each.value for each in reader.readings("ph", 0, 1 << 60)] == [7.0]
        assert reader.span() == {"ph": (1000, 1000)}
        assert reader.stretch() == waiting.stretch() == STRETCH
        latest = reader.latest_provisional("ph")
        assert latest is not None
        assert (latest.at, latest.value, latest.flag) == (1030, 7.3, Flag.NOT_EVALUATED)
        assert reader.latest_provisional("nobody") is None


def test_their_journal_is_what_was_seen(waiting: Store) -> None:
    events = list(waiting.provisional_journal(STRETCH))
    assert events == [
        Sample("ph", 1010, 7.1, 1010),
        Sample("water", 1010, 18.0, 1010),
        Act("a", 1015, "note", {"note": "x"}),
        Sample("ph", 77, 7.2, 1020),
        Delivered("k", 1025, "dead"),
        Sample("ph", 1030, 7.3, 1030, dated=False),
    ]


def test_dating_moves_all_by_the_same(waiting: Store, path: Path) -> None:
    seen: list[Event] = []

    def fold(events: Iterator[Event]) -> Iterator[Batch]:
        seen.extend(events)
        yield Batch(readings=[reading("ph", 5010, 7.1)], cursor=5030, clock_set="boot-2")

    waiting.date(4000, fold)
    assert [getattr(event, "received_at", getattr(event, "at", 0)) for event in seen] == [
        5010, 5010, 5015, 5020, 5025, 5030,
    ]  # fmt: skip
    assert waiting.stretch() is None
    assert waiting.clock_set() == "boot-2"
    with Reader.open(path) as reader:
        assert [each.at for each in reader.readings("ph", 0, 1 << 60)] == [1000, 5010]
        assert reader.latest_provisional("ph") is None
        assert [(row.act.at, row.received_at) for row in reader.acts(0, 1 << 60)] == [(5015, 5015)]
        assert [(t.at, t.since) for t in reader.transitions(0, 1 << 60)] == [(5016, 990), (5017, 5011)]
        assert [m.at for m in reader.moves(0, 1 << 60)] == [5016]
        assert reader.clock_set() == "boot-2"


def test_a_probe_that_is_gone_from_the_configuration_keeps_its_readings(waiting: Store, path: Path) -> None:
    waiting.close()
    with Store.open(path, [("water", "temperature")]) as store:
        store.date(4000, lambda events: (Batch(readings=()) for _ in events))
    with Reader.open(path) as reader:
        found = list(reader.readings("ph", 0, 1 << 60))
    assert [(each.at, each.received_at, each.value) for each in found] == [
        (77, 5020, 7.2), (1000, 1000, 7.0), (5010, 5010, 7.1), (5030, 5030, 7.3),
    ]  # fmt: skip


def test_a_fold_that_fails_leaves_all_as_it_was(waiting: Store, path: Path) -> None:
    before = list(waiting.provisional_journal(STRETCH))

    def fold(events: Iterator[Event]) -> Iterator[Batch]:
        next(events)
        yield Batch(readings=[reading("ph", 5010, 7.1)])
        raise StoreError("the power went")

    with pytest.raises(StoreError):
        waiting.date(4000, fold)
    assert list(waiting.provisional_journal(STRETCH)) == before
    with Reader.open(path) as reader:
        assert [each.at for each in reader.readings("ph", 0, 1 << 60)] == [1000]


def test_what_is_dated_cannot_be_dated_again(store: Store) -> None:
    with pytest.raises(StoreError, match="nothing that waits"):
        store.date(1, lambda events: iter(()))


def test_left_undated_they_keep_their_order(waiting: Store, path: Path) -> None:
    waiting.leave_undated()
    waiting.leave_undated()
    assert waiting.stretch() is None
    with Reader.open(path) as reader:
        found = list(reader.readings("ph", 0, 1 << 60))
    assert [(each.at, each.value) for each in found] == [(1000, 7.0), (1010, 7.1), (1020, 7.2), (1030, 7.3)]
    assert {(each.flag, each.reason) for each in found[1:]} == {(Flag.NOT_EVALUATED, Reason.UNDATED)}
    assert [e.dated for _, e in waiting.journal_since(1000) if isinstance(e, Sample)] == [False] * 4


def test_more_than_fit_into_memory_at_once(store: Store, path: Path) -> None:
    count = ROWS_AT_ONCE * 2 + 7
    store.commit(Batch(readings=[reading("ph", 1001 + n, n / 1e4) for n in range(count)], cursor=9999, stretch=STRETCH))
    store.leave_undated()
    with Reader.open(path) as reader:
        assert [each.value for each in reader.readings("ph", 0, 1 << 60)] == [n / 1e4 for n in range(count)]


def test_a_store_of_the_first_version_is_brought_up_to_date(path: Path) -> None:
    with Store.open(path, [("ph", "ph")], migrations=MIGRATIONS[:1]) as old:
        old._db.execute("INSERT INTO readings VALUES (0, 500, 0, 7.0, 1, 0, 0)")
    with Store.open(path, [("ph", "ph")]) as store:
        assert store.stretch() is None
        store.commit(Batch(readings=[reading("ph", 1010, 7.1)], stretch=STRETCH))
        assert store.stretch() == STRETCH
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA user_version").fetchone()[0] == len(MIGRATIONS)
    assert db.execute("SELECT at FROM readings").fetchall() == [(500,)]
    db.close()
