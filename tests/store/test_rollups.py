"""Rollups equal a count over the readings, however these came: in order, late, twice, by halves."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from itertools import takewhile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnline.reading import Flag, Reading
from dawnline.rollup import STEP_MS, Rollup, by_step
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.schema import MIGRATIONS
from dawnline.store.store import Store

from .kept import reading

PROBES = [("ph", "ph"), ("water", "temperature")]
END = 40 * STEP_MS


def counted(readings: list[Reading], probe: str, step: int) -> list[tuple[int, int, float, float, float, int]]:
    """By plain counting; an exact repeat counts once."""
    found: dict[int, list[Reading]] = defaultdict(list)
    kept = {(each.at, each.value): each for each in reversed(readings) if each.probe == probe}
    for each in kept.values():
        found[each.at // step * step].append(each)
    rows = []
    for at, those in sorted(found.items()):
        good = [each.value for each in those if each.flag is Flag.GOOD]
        rows.append((at, len(good), min(good, default=0.0), max(good, default=0.0), sum(good), len(those) - len(good)))
    return rows


some_readings = st.lists(
    st.builds(
        reading,
        st.sampled_from(["ph", "water"]),
        st.integers(0, END - 1),
        st.integers(0, 5).map(float),
        st.sampled_from([Flag.GOOD, Flag.GOOD, Flag.SUSPECT, Flag.NOT_EVALUATED]),
    ),
    max_size=40,
)


@settings(max_examples=60)
@given(batches=st.lists(some_readings, max_size=5), step=st.sampled_from([1, 2, 4, 96]))
def test_they_equal_a_count_over_the_readings(
    tmp_path_factory: pytest.TempPathFactory, batches: list[list[Reading]], step: int
) -> None:
    path = tmp_path_factory.mktemp("rollups") / "pond.db"
    with Store.open(path, PROBES) as store:
        for batch in batches:
            store.commit(Batch(readings=batch))
    everything = [each for batch in batches for each in batch]
    with Reader.open(path) as reader:
        for probe, _ in PROBES:
            wanted = [pytest.approx(row) for row in counted(everything, probe, step * STEP_MS)]
            assert reader.rollups(probe, 0, END, step * STEP_MS) == wanted
            assert by_step(reader.rollups(probe, 0, END), 0, step * STEP_MS) == wanted
        assert reader.rollups("nobody", 0, END) == []


def test_a_stretch_of_them(store: Store, path: Path) -> None:
    store.commit(Batch(readings=[reading("ph", at * STEP_MS // 3, float(at)) for at in range(30)]))
    with Reader.open(path) as reader:
        found = reader.rollups("ph", 2 * STEP_MS, 10 * STEP_MS, 4 * STEP_MS)
        assert found == [
            Rollup(2 * STEP_MS, 12, 6.0, 17.0, 138.0, 0),
            Rollup(6 * STEP_MS, 12, 18.0, 29.0, 282.0, 0),
        ]
        assert reader.rollups("ph", 9 * STEP_MS, 10 * STEP_MS) == [Rollup(9 * STEP_MS, 3, 27.0, 29.0, 84.0, 0)]


def test_a_store_of_before_gets_them_when_it_is_opened(path: Path) -> None:
    old = list(takewhile(lambda step: step.fill is None, MIGRATIONS))
    rows = [(0, at * STEP_MS // 7, 0, float(at % 11), 1 + 2 * (at % 5 == 0), 0, 0) for at in range(2000)]
    with Store.open(path, PROBES, migrations=old):
        pass
    db = sqlite3.connect(path)
    with db:
        db.executemany("INSERT INTO readings VALUES (?,?,?,?,?,?,?)", rows)
    db.close()
    with Store.open(path, PROBES), Reader.open(path) as reader:
        given = [reading("ph", row[1], row[3], flag=Flag(row[4])) for row in rows]
        wanted = [pytest.approx(row) for row in counted(given, "ph", STEP_MS)]
        assert reader.rollups("ph", 0, 1000 * STEP_MS) == wanted
    with sqlite3.connect(path) as db:
        assert db.execute("SELECT count(*) FROM rollups").fetchone() == (len(wanted),)
