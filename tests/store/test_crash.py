"""Power cuts and full disks: what was reported committed is there, and nothing is there by halves."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from dawnline.errors import StoreError
from dawnline.event import Transition
from dawnline.letter import Letter
from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.state import StoredCheckpoint
from dawnline.store.store import Store

PROBES = [("ph", "ph"), ("water", "temperature")]
KILLS = 30

WRITER = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from test_crash import PROBES, numbered
from dawnline.store.store import Store
store = Store.open(Path(sys.argv[1]), PROBES)
k = (store.cursor() or 0) + 1
while True:
    store.commit(numbered(k))
    print(k, flush=True)
    k += 1
"""


def numbered(k: int) -> Batch:
    """The k-th batch: 12 readings, a transition with its letter, and a state that says k."""
    return Batch(
        readings=[
            Reading(probe, 1000 * k + i, float(k), 1000 * k + i, Flag.GOOD, Reason.NONE)
            for i in range(6)
            for probe, _ in PROBES
        ],
        transitions=[Transition(k, k, k, "ph-low", "raised", "high", "ph", 6.4, "low")],
        letters=[Letter(f"k{k}", k, k, "ada", "console:", "high", "low", "text " * 50)],
        cursor=k,
        alarm_memory=str(k) * 300,
        checkpoint=StoredCheckpoint(1, k, str(k)),
    )


def whole_up_to(path: Path) -> int:
    """The number of the last batch, after a look whether each up to it is whole and nothing else is there."""
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    (last,) = db.execute("SELECT value FROM state WHERE key = 'cursor'").fetchone() or (0,)
    readings = db.execute("SELECT CAST(value AS INTEGER), count(*) FROM readings GROUP BY 1 ORDER BY 1").fetchall()
    transitions = db.execute("SELECT id FROM transitions ORDER BY seq").fetchall()
    letters = db.execute("SELECT episode FROM outbox ORDER BY seq").fetchall()
    db.close()
    numbers = list(range(1, last + 1))
    assert readings == [(k, 12) for k in numbers]
    assert transitions == letters == [(k,) for k in numbers]
    return int(last)


def test_a_killed_writer_leaves_whole_batches_and_all_it_reported(path: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    command = [sys.executable, "-c", WRITER, str(path), str(Path(__file__).parent)]
    for kill in range(KILLS):
        writer = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
        assert writer.stdout is not None
        reported = [writer.stdout.readline() for _ in range(1 + kill % 3)]
        time.sleep(kill % 10 * 0.0004)  # so that the blow falls at another place of a commit each time
        writer.kill()
        reported += writer.stdout.read().splitlines(keepends=True)
        writer.stdout.close()
        writer.wait()
        last_reported = max(int(line) for line in reported if line.endswith("\n"))
        assert last_reported <= whole_up_to(path) <= last_reported + 1
    with Store.open(path, PROBES) as store:
        k = whole_up_to(path)
        assert store.checkpoint() == StoredCheckpoint(1, k, str(k))
        assert len(store.waiting()) == k


def test_a_full_disk_loses_nothing_and_the_batch_can_come_again(store: Store, path: Path) -> None:
    pages = store._db.execute("PRAGMA page_count").fetchone()[0]
    store._db.execute(f"PRAGMA max_page_count = {pages + 8}")
    done = 0

    def fill() -> None:
        nonlocal done
        for k in range(1, 1000):
            store.commit(numbered(k))
            done = k

    with pytest.raises(StoreError, match=r"heron-lane\.db: the disk is full: make room"):
        fill()
    assert done == whole_up_to(path)
    with pytest.raises(StoreError, match="disk is full"):
        store.commit(numbered(done + 1))
    store._db.execute("PRAGMA max_page_count = 1000000")
    for k in range(done + 1, done + 20):
        store.commit(numbered(k))
    assert whole_up_to(path) == done + 19


def test_a_reader_in_the_middle_of_its_rows_neither_blocks_nor_changes(store: Store, path: Path) -> None:
    for k in range(1, 11):
        store.commit(numbered(k))
    with closing(Reader.open(path)) as reader:
        rows = reader.readings("ph", 0, 10**9)
        first = next(rows)
        for k in range(11, 200):  # more than one turn of the write-ahead log
            store.commit(numbered(k))
        assert reader.cursor() is not None
        assert [first, *rows] == [r for k in range(1, 11) for r in numbered(k).readings if r.probe == "ph"]
        assert reader.cursor() == 199
        assert len(list(reader.readings("ph", 0, 10**9))) == 199 * 6


def test_a_reader_cannot_write(store: Store, path: Path) -> None:
    with Reader.open(path) as reader, pytest.raises(sqlite3.OperationalError, match="readonly"):
        reader._db.execute("DELETE FROM readings")
