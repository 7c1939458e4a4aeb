from __future__ import annotations

import json
from pathlib import Path
from types import MappingProxyType

import pytest

from dawnline.errors import StoreError
from dawnline.event import Act, Day, Moved, Transition
from dawnline.letter import Letter
from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.record import ActRow
from dawnline.store.state import StoredCheckpoint
from dawnline.store.store import Store

DAY = Day("2026-06-01", "ph", 6.91, 100, 8.02, 200, 1.11, 7.4, 0.0, 12.5, 0.99, False)
EMPTY_DAY = Day("2026-06-02", "ph", None, None, None, None, None, None, 0.0, 0.0, 0.0, True)
RAISED = Transition(7, 1000, 400, "ph-low", "raised", "high", "ph", 6.4, "pH 6.40")
RETURNED = Transition(7, 2000, 1500, "ph-low", "returned", "high", None, None, "back", "ada")
SHELVED = Moved(1500, "ph-low", "ph", 7, "shelve", "acknowledged", "shelved", "high", "ada", "I am at the pond")
QUIET = Moved(1400, "no-data", None, None, "release", "suppressed by design", "normal", "medium", "", "")
LETTER = Letter("k1", 1000, 7, "ada", "mailto:ada@example.org", "high", "pH low", "Look at the fish.")


def some_batch(at: int = 1000) -> Batch:
    return Batch(
        readings=[Reading("ph", at, 7.0, at, Flag.GOOD, Reason.NONE)],
        days=[DAY],
        transitions=[RAISED],
        moves=[SHELVED, QUIET],
        acts=[ActRow(Act("a1", at, "note", {"text": "fed"}), True, "noted", at)],
        letters=[LETTER],
        attempts=["k1"],
        cursor=at,
        receipts={"mqtt": [(1, b"12345678"), (65535, b"\0" * 8)]},
        alarm_memory='{"ph-low":1}',
        checkpoint=StoredCheckpoint(3, at, '{"all":"ü"}'),
    )


def test_a_batch_comes_back_whole_after_a_new_start(store: Store, path: Path) -> None:
    assert store.commit(some_batch()) == {"k1"}
    store.commit(Batch())  # what is left out stays
    store.close()
    with Store.open(path, [("ph", "ph")]) as again:
        assert again.cursor() == 1000
        assert again.receipts("mqtt") == [(1, b"12345678"), (65535, b"\0" * 8)]
        assert again.receipts("other") == []
        assert again.alarm_memory() == '{"ph-low":1}'
        assert again.checkpoint() == StoredCheckpoint(3, 1000, '{"all":"ü"}')
        assert [(row.key, row.state, row.attempts) for row in again.waiting()] == [("k1", "trying", 1)]
        assert again.act_verdict("a1") == (True, "noted")
        assert again.act_verdict("a2") is None
    with Reader.open(path) as reader:
        assert reader.days("2026-06-01", "2026-06-01") == [DAY]
        assert reader.transitions(0, 9999) == [RAISED]
        assert reader.moves(0, 9999) == [QUIET, SHELVED]
        assert reader.moves(1400, 1500) == [QUIET]
        assert reader.cursor() == 1000
        assert reader.alarm_memory() == '{"ph-low":1}'
        assert reader.act_verdict("a1") == (True, "noted")


def test_in_a_with_statement_all_answers_are_of_one_moment(store: Store, path: Path) -> None:
    """A page that is made while the service commits shows no day twice and none not at all."""
    with Reader.open(path) as reader:
        assert reader.days(DAY.date, DAY.date) == []
        store.commit(Batch(days=[DAY], cursor=1000))
        assert (reader.days(DAY.date, DAY.date), reader.cursor()) == ([], None)
    reader = Reader.open(path)
    assert (reader.days(DAY.date, DAY.date), reader.cursor()) == ([DAY], 1000)
    store.commit(Batch(cursor=1001))
    assert reader.cursor() == 1001
    reader.close()


def test_state_given_again_takes_the_place_of_the_last(store: Store) -> None:
    store.commit(some_batch())
    store.commit(
        Batch(
            cursor=2000,
            receipts={"mqtt": []},
            alarm_memory="{}",
            checkpoint=StoredCheckpoint(4, 2000, "x" * 99_999),
        )
    )
    assert (store.cursor(), store.receipts("mqtt"), store.alarm_memory()) == (2000, [], "{}")
    assert store.checkpoint() == StoredCheckpoint(4, 2000, "x" * 99_999)


def test_a_checkpoint_that_cannot_be_unpacked_is_none(store: Store) -> None:
    store.commit(some_batch())
    store._db.execute("UPDATE checkpoint SET packed = x'00112233'")
    assert store.checkpoint() is None


def test_a_day_decided_again_replaces_the_first(store: Store, path: Path) -> None:
    store.commit(Batch(days=[DAY, EMPTY_DAY]))
    revised = Day(*(*(getattr(DAY, f) for f in ("date", "probe")), 6.5, 1, 8.0, 2, 1.5, 7.0, 3.0, 4.0, 0.5, True))
    store.commit(Batch(days=[revised]))
    with Reader.open(path) as reader:
        assert reader.days("2026-01-01", "2026-12-31") == [revised, EMPTY_DAY]
        assert reader.days("2026-06-02", "2026-06-02") == [EMPTY_DAY]


def test_transitions_are_the_last_ones_in_the_order_they_were_decided(store: Store, path: Path) -> None:
    store.commit(Batch(transitions=[RAISED]))
    store.commit(Batch(transitions=[RETURNED]))
    with Reader.open(path) as reader:
        assert reader.transitions(1000, 2001) == [RAISED, RETURNED]
        assert reader.transitions(1000, 2001, limit=1) == [RETURNED]
        assert reader.transitions(1000, 2000) == [RAISED]


def test_an_act_is_stored_once_and_its_first_verdict_stands(store: Store, path: Path) -> None:
    body = {"share": 0.15, "deep": MappingProxyType({"x": [1, None, "ü"]})}
    act = Act("a1", 10, "water-change", body, "ada")
    store.commit(Batch(acts=[ActRow(act, False, "too much", 500)]))
    store.commit(Batch(acts=[ActRow(act, True, "fine", 600)]))
    with Reader.open(path) as reader:
        (row,) = reader.acts(10, 11)
        assert reader.acts(11, 9999) == []
    assert (row.accepted, row.text, row.received_at) == (False, "too much", 500)
    assert row.act == Act("a1", 10, "water-change", json.loads(json.dumps(body, default=dict)), "ada")


def test_what_was_refused_is_not_among_what_was_done(store: Store, path: Path) -> None:
    first, second, refused = (
        Act(name, at, "note", {"note": name}, "ada") for name, at in [("a", 20), ("b", 10), ("c", 15)]
    )
    store.commit(Batch(acts=[ActRow(first, True, "noted", 500), ActRow(refused, False, "no", 500)]))
    store.commit(Batch(acts=[ActRow(second, True, "noted", 600)]))
    with Reader.open(path) as reader:
        assert reader.done(10, 21) == [second, first]
        assert reader.done(11, 20) == []


@pytest.mark.parametrize(
    "bad",
    [
        Batch(receipts={"mqtt": [(65536, b"12345678")]}),
        Batch(receipts={"mqtt": [(1, b"123")]}),
        Batch(cursor=2**63),
        Batch(alarm_memory="\ud800"),
    ],
    ids=["packet id", "digest", "integer", "surrogate"],
)
def test_what_cannot_be_stored_leaves_nothing_of_its_batch(store: Store, path: Path, bad: Batch) -> None:
    whole = some_batch()
    with pytest.raises(StoreError, match=r"heron-lane\.db"):
        store.commit(
            Batch(
                readings=whole.readings, transitions=whole.transitions, letters=whole.letters,
                acts=whole.acts, cursor=bad.cursor, receipts=bad.receipts, alarm_memory=bad.alarm_memory,
            )
        )  # fmt: skip
    assert (store.cursor(), store.waiting(), store.act_verdict("a1")) == (None, [], None)
    with Reader.open(path) as reader:
        assert reader.span() == {}
        assert reader.transitions(0, 9999) == []
    store.commit(whole)
    assert store.cursor() == 1000
