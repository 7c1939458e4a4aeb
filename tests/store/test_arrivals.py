"""Readings in the order of arrival, from any place on: each once, none passed over."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

from .kept import reading

BEGIN = (-(1 << 62), "", 0, 0)


def walk(path: Path, limit: int) -> list[tuple[int, str, int, int, float]]:
    found, place = [], BEGIN
    with Reader.open(path) as reader:
        while rows := reader.arrived(place, limit):
            assert len(rows) <= limit
            found += [(received, probe, at, n, value) for received, probe, at, n, _, value, _ in rows]
            place = rows[-1][:4]
    return found


def test_in_order_of_arrival_with_late_and_doubled_times(path: Path, store: Store) -> None:
    rows = [
        reading("ph", 1000, 7.1),
        reading("water", 1001, 18.0),
        reading("ph", 500, 7.0, received_at=1002),  # late
        reading("ph", 1000, 7.2, received_at=1003),  # another value of a time already there
        reading("ph", 2000, 7.3),
    ]
    store.commit(Batch(readings=rows))
    expected = [
        (1000, "ph", 1000, 0, 7.1),
        (1001, "water", 1001, 0, 18.0),
        (1002, "ph", 500, 0, 7.0),
        (1003, "ph", 1000, 1, 7.2),
        (2000, "ph", 2000, 0, 7.3),
    ]
    assert walk(path, 2) == walk(path, 100) == expected


@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(
    arrivals=st.lists(
        st.tuples(st.sampled_from(["ph", "water"]), st.integers(0, 40), st.integers(-9, 9)), min_size=1, max_size=40
    ),
    limit=st.integers(1, 7),
)
def test_every_row_once_whatever_the_limit(tmp_path_factory, arrivals, limit) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path_factory.mktemp("arrivals") / "pond.db"
    with Store.open(path, [("ph", "ph"), ("water", "temperature")]) as store:
        received = 0
        for probe, step, late in arrivals:  # a step of 0: several values in one message
            received += step
            store.commit(Batch(readings=[reading(probe, received + late, 7.0 + received + late / 10, received)]))
        found = walk(path, limit)
        with Reader.open(path) as reader:
            there = sum(len(list(reader.readings(probe, -100, 1 << 40))) for probe in ("ph", "water"))
    assert len(found) == len(set(found)) == there
    assert [row[:4] for row in found] == sorted(row[:4] for row in found)
