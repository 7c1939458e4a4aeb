from __future__ import annotations

import sqlite3
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.errors import StoreError
from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

PROBES = [("ph", "ph"), ("water", "temperature"), ("air", "temperature")]

readings = st.builds(
    lambda probe, at, value, late, flag, reason: Reading(probe, at, value, at + late, flag, reason),
    st.sampled_from([name for name, _ in PROBES]),
    st.integers(1_780_000_000_000, 1_780_000_000_004) | st.integers(0, 2**45),
    st.sampled_from([7.0, 7.125, -0.0, 0.0]) | st.floats(allow_nan=False, allow_infinity=False),
    st.just(0) | st.integers(-(10**9), 10**12),
    st.sampled_from(Flag),
    st.sampled_from(Reason),
)


@settings(max_examples=60)
@given(st.lists(st.lists(readings, max_size=12), max_size=5), st.booleans())
def test_every_reading_comes_back_once_in_order(batches: list[list[Reading]], again: bool) -> None:
    expected: dict[tuple[str, int], list[Reading]] = {}
    for reading in (r for batch in batches for r in batch):
        same_time = expected.setdefault((reading.probe, reading.at), [])
        if all(r.value != reading.value for r in same_time):
            same_time.append(reading)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "s.db"
        with Store.open(path, PROBES) as store:
            for batch in batches * (1 + again):  # a crash may bring whole batches once more
                store.commit(Batch(batch))
        with Reader.open(path) as reader:
            for probe, _ in PROBES:
                kept = [r for key in sorted(expected) if key[0] == probe for r in expected[key]]
                assert list(reader.readings(probe, 0, 2**46)) == kept
                dated = [r for r in kept if r.reason is not Reason.AHEAD_OF_CLOCK]
                assert reader.latest(probe) == (dated[-1] if dated else None)


def test_another_value_of_the_same_time_gets_the_next_number(store: Store, path: Path) -> None:
    def at_1(value: float) -> Reading:
        return Reading("ph", 1, value, 1, Flag.SUSPECT, Reason.REPEATED_TIME)

    for values in ((7.0,), (7.1, 7.0), (7.2, 7.2), (7.1,)):
        store.commit(Batch([at_1(v) for v in values]))
    db = sqlite3.connect(path)
    assert db.execute("SELECT n, value FROM readings").fetchall() == [(0, 7.0), (1, 7.1), (2, 7.2)]
    db.close()


def test_start_is_included_and_end_is_not(store: Store, path: Path) -> None:
    store.commit(Batch([Reading("ph", at, 7.0, at, Flag.GOOD, Reason.NONE) for at in (1, 2, 3)]))
    with Reader.open(path) as reader:
        assert [r.at for r in reader.readings("ph", 1, 3)] == [1, 2]
        assert list(reader.readings("unknown", 0, 9)) == []
        assert reader.latest("unknown") is None
        found = next(reader.readings("ph", 0, 9))
    assert type(found.flag) is Flag
    assert type(found.reason) is Reason


def test_good_readings_alone_one_by_one_and_in_buckets(store: Store, path: Path) -> None:
    flags = [Flag.GOOD, Flag.FAIL, Flag.GOOD, Flag.GOOD, Flag.SUSPECT, Flag.GOOD]
    store.commit(Batch([Reading("ph", 10 + i, 7.0 + i, 10 + i, f, Reason.NONE) for i, f in enumerate(flags)]))
    with Reader.open(path) as reader:
        assert list(reader.good("ph", 10, 15)) == [(10, 7.0), (12, 9.0), (13, 10.0)]
        assert reader.buckets("ph", 10, 16, 4) == [(10, 3, 7.0, 10.0, 26.0, 0), (14, 1, 12.0, 12.0, 12.0, 0)]
        assert reader.buckets("ph", 11, 12, 1) == []


def test_a_value_that_is_no_number_is_refused_and_not_silently_dropped(store: Store) -> None:
    bad = Reading("ph", 1, float("nan"), 1, Flag.GOOD, Reason.NONE)
    with pytest.raises(StoreError, match="NOT NULL"):
        store.commit(Batch([bad], cursor=1))
    assert store.cursor() is None


def test_a_good_row_costs_nothing_beyond_time_and_value(store: Store) -> None:
    times = [1_780_000_000_000 + i * 10_000 for i in range(8000)]
    rows = [Reading("ph", at, 7.123, at, Flag.GOOD, Reason.NONE) for at in times]
    store.commit(Batch(rows[:4000]))
    before = store._db.execute("PRAGMA page_count").fetchone()[0]
    store.commit(Batch(rows[4000:]))
    after = store._db.execute("PRAGMA page_count").fetchone()[0]
    # SQLite's file format: 6 bytes of time, 8 of value, 8 of record header, 3 of cell; the rest is the tree's
    assert (after - before) * 1024 / 4000 < 30
