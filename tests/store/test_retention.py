"""Raw readings go, their quarters of an hour stay: whatever came late, whenever the power is cut."""

from __future__ import annotations

import sqlite3
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.reading import Flag, Reading
from dawnline.rollup import STEP_MS, Rollup
from dawnline.store import retention
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

from .kept import reading

PROBES = [("ph", "ph"), ("water", "temperature")]
END = 40 * STEP_MS
FLAGS = [Flag.GOOD] * 6 + [Flag.SUSPECT]


def some(quarters: int = 12, a_quarter: int = 10) -> list[Reading]:
    """Readings of both probes, each of a value of its own; some are suspect."""
    return [
        reading(
            probe,
            number * STEP_MS // a_quarter,
            7 + number / 1000,
            None,
            Flag.SUSPECT if number % 7 == 3 else Flag.GOOD,
        )
        for number in range(quarters * a_quarter)
        for probe, _ in PROBES
    ]


def rolled(path: Path) -> dict[str, list[Rollup]]:
    with Reader.open(path) as reader:
        return {probe: reader.rollups(probe, 0, END) for probe, _ in PROBES}


def raw(path: Path) -> list[Reading]:
    with Reader.open(path) as reader:
        return [each for probe, _ in PROBES for each in reader.readings(probe, 0, END)]


def all_gone(store: Store, before: int, copied: int | None = None) -> int:
    gone = 0
    while step := store.let_go(before, copied).gone:
        gone += step
    return gone


def test_the_quarters_stay_as_they_were_and_the_rest_is_untouched(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(retention, "ROWS", 25)
    store.commit(Batch(readings=some()))
    before = rolled(path)
    assert all_gone(store, 6 * STEP_MS + 17) == 2 * 60
    assert rolled(path) == before
    assert min(each.at for each in raw(path)) == 6 * STEP_MS
    assert len(raw(path)) == 2 * 60
    with Reader.open(path) as reader:
        assert [reader.raw_since(probe) for probe, _ in PROBES] == [6 * STEP_MS] * 2


def test_a_step_is_small(store: Store) -> None:
    store.commit(Batch(readings=some(40, 50)))
    gone = [store._whole(lambda: retention.let_go(store._db, END, None, 200)).gone for _ in range(5)]
    assert all(0 < number <= 200 for number in gone)
    crowded = [reading("ph", number, 6.0 + number / 1e4) for number in range(900)]
    store.commit(Batch(readings=crowded))
    assert store._whole(lambda: retention.let_go(store._db, END, None, 200)).gone >= 900  # one quarter goes whole


def test_the_quarter_of_the_newest_reading_stays(store: Store, path: Path) -> None:
    store.commit(Batch(readings=some()))
    all_gone(store, 1 << 50)
    assert {each.probe for each in raw(path)} == {"ph", "water"}
    assert {each.at // STEP_MS for each in raw(path)} == {11}


def test_what_comes_late_for_a_quarter_that_has_gone_counts_once(store: Store, path: Path) -> None:
    store.commit(Batch(readings=some()))
    before = rolled(path)
    all_gone(store, 8 * STEP_MS)
    late = [reading("ph", 2 * STEP_MS + number, 6.0 + number / 100, 11 * STEP_MS + number) for number in range(3)]
    store.commit(Batch(readings=late[:2]))
    assert all_gone(store, 8 * STEP_MS) == 2
    store.commit(Batch(readings=late[2:]))
    assert all_gone(store, 0) == 1  # also where nothing else is let go any more
    after = rolled(path)
    assert after["water"] == before["water"]
    assert [new for new, old in zip(after["ph"], before["ph"], strict=True) if new != old] == [
        before["ph"][2]._replace(
            number=before["ph"][2].number + 3, low=6.0, total=pytest.approx(before["ph"][2].total + 18.03)
        )
    ]


def test_what_is_not_copied_yet_waits(store: Store, path: Path) -> None:
    late = reading("ph", 3 * STEP_MS + 1, 6.0, 11 * STEP_MS)
    store.commit(Batch(readings=[*some(), late]))
    assert all_gone(store, 8 * STEP_MS, copied=2 * STEP_MS + 5) == 0  # a step is whole quarters, and not all are copied
    assert store.let_go(8 * STEP_MS, 2 * STEP_MS + 5).waiting == 0
    all_gone(store, 8 * STEP_MS, copied=9 * STEP_MS)
    assert late in raw(path)
    assert "water" not in {each.probe for each in raw(path) if each.at < 8 * STEP_MS}
    all_gone(store, 8 * STEP_MS, copied=12 * STEP_MS)
    assert late not in raw(path)
    assert store.let_go(8 * STEP_MS, 12 * STEP_MS) == (0, None)


def test_a_store_that_was_never_rolled_up_loses_nothing(store: Store, path: Path) -> None:
    store.commit(Batch(readings=some()))
    before = rolled(path)
    store._db.execute("DELETE FROM rollups")
    all_gone(store, 8 * STEP_MS)
    assert [each for each in rolled(path)["ph"] if each.at < 8 * STEP_MS] == before["ph"][:8]


class PowerCutError(Exception):
    """Nothing more is written."""


class Cut:
    """A connection that is cut at a statement."""

    def __init__(self, db: sqlite3.Connection, at: int) -> None:
        self.db, self.at, self.statements = db, at, count()

    def execute(self, *words: Any) -> sqlite3.Cursor:
        if next(self.statements) >= self.at:
            raise PowerCutError
        return self.db.execute(*words)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.db, name)


def test_a_power_cut_at_any_statement_loses_no_quarter(tmp_path: Path) -> None:
    """The process that dies has no time to roll back: SQLite does, at the next start."""
    for at in range(60):
        path = tmp_path / f"{at}.db"
        store = Store.open(path, PROBES)
        store.commit(Batch(readings=some()))
        all_gone(store, 4 * STEP_MS)
        store.commit(Batch(readings=[reading("ph", STEP_MS, 5.0, 11 * STEP_MS)]))
        with_late = rolled(path)["ph"]
        before = rolled(path)["water"]
        ends = False
        store._db = Cut(store._db, at)  # type: ignore[assignment]
        try:
            all_gone(store, 8 * STEP_MS)
            ends = True
        except PowerCutError:
            pass
        store._db.db.close()  # type: ignore[attr-defined]
        store._held.close()
        with Store.open(path, PROBES) as again:
            assert rolled(path)["water"] == before
            all_gone(again, 8 * STEP_MS)
            found = rolled(path)["ph"]
            assert [each.number for each in found] == [each.number + (each.at == STEP_MS) for each in with_late]
            assert found[1].low == 5.0
        if ends:
            return
    raise AssertionError("the story is longer than that")


@settings(max_examples=40)
@given(
    batches=st.lists(
        st.lists(st.tuples(st.sampled_from(["ph", "water"]), st.integers(0, END - 1)), min_size=1, max_size=12),
        min_size=1,
        max_size=5,
    ),
    before=st.lists(st.integers(0, END), min_size=5, max_size=5),
)
def test_whatever_comes_between_every_reading_counts_once(
    tmp_path_factory: pytest.TempPathFactory, batches: list[list[tuple[str, int]]], before: list[int]
) -> None:
    path, number = tmp_path_factory.mktemp("retention") / "pond.db", count()
    with Store.open(path, PROBES) as store:
        store._db.execute("PRAGMA synchronous = OFF")
        added = []
        for batch, cutoff in zip(batches, before, strict=False):
            rows = [reading(probe, at, 1 + next(number) / 1000) for probe, at in batch]
            added += rows
            store.commit(Batch(readings=rows))
            all_gone(store, cutoff)
        all_gone(store, 0)
        for probe, _ in PROBES:
            found = {each.at: each for each in rolled(path)[probe]}
            for quarter in {each.at // STEP_MS * STEP_MS for each in added if each.probe == probe}:
                values = [r.value for r in added if r.probe == probe and r.at // STEP_MS * STEP_MS == quarter]
                assert (found[quarter].number, found[quarter].low, found[quarter].high) == (
                    len(values), min(values), max(values),
                )  # fmt: skip
                assert found[quarter].total == pytest.approx(sum(values))
