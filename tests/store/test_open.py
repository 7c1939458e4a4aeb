from __future__ import annotations

import os
import sqlite3
from pathlib import Path

import pytest

from dawnline.errors import StoreError
from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.schema import MIGRATIONS, Migration
from dawnline.store.store import Store

PROBES = [("ph", "ph"), ("water", "temperature")]
KNOWN = len(MIGRATIONS)
NEWER = rf"heron-lane\.db.*version {KNOWN + 1}.*up to {KNOWN}.*newer program"
LATER = Migration(
    "probes get a place", ("ALTER TABLE probes ADD COLUMN place TEXT", "UPDATE probes SET place = 'filter'")
)


def pragma(path: Path, name: str) -> object:
    db = sqlite3.connect(path)
    value = db.execute(f"PRAGMA {name}").fetchone()[0]
    db.close()
    return value


def a_store(path: Path, readings: int = 3) -> None:
    with Store.open(path, PROBES) as store:
        store.commit(Batch([Reading("ph", 1000 + i, 7.0, 1000 + i, Flag.GOOD, Reason.NONE) for i in range(readings)]))


def test_a_new_store_has_the_settings_that_the_claims_rest_on(path: Path) -> None:
    with Store.open(path, PROBES) as store:
        assert store._db.execute("PRAGMA synchronous").fetchone()[0] == 2  # FULL
        assert store.cursor() is None
        assert store.checkpoint() is None
        assert store.alarm_memory() is None
        assert store.receipts("mqtt") == []
        assert list(store.journal_since(0)) == []
        assert store.waiting() == []
    assert pragma(path, "journal_mode") == "wal"
    assert pragma(path, "page_size") == 1024
    assert pragma(path, "user_version") == len(MIGRATIONS)
    tables = sqlite3.connect(path)
    strict = dict(tables.execute("SELECT name, strict FROM pragma_table_list WHERE name NOT LIKE 'sqlite_%'"))
    tables.close()
    assert set(strict.values()) == {1}


def test_closed_and_opened_again_it_is_the_same(path: Path) -> None:
    a_store(path)
    a_store(path)
    assert not path.with_name(path.name + "-wal").exists()
    with Reader.open(path) as reader:
        assert len(list(reader.readings("ph", 0, 9999))) == 3


def test_a_later_migration_is_applied_once_and_keeps_the_rows(path: Path) -> None:
    a_store(path)
    for _ in range(2):
        Store.open(path, PROBES, migrations=(*MIGRATIONS, LATER)).close()
        db = sqlite3.connect(path)
        assert db.execute("SELECT DISTINCT place FROM probes").fetchall() == [("filter",)]
        assert db.execute("SELECT count(*) FROM readings").fetchone() == (3,)
        db.close()
    assert pragma(path, "user_version") == len(MIGRATIONS) + 1


def test_a_migration_that_fails_leaves_the_store_at_the_step_before(path: Path) -> None:
    a_store(path)
    broken = Migration("half", (*LATER.statements, "INSERT INTO nowhere VALUES (1)"))
    with pytest.raises(StoreError, match=r"heron-lane\.db.*nowhere"):
        Store.open(path, PROBES, migrations=(*MIGRATIONS, broken))
    assert pragma(path, "user_version") == len(MIGRATIONS)
    a_store(path)


def test_a_store_from_a_newer_program_is_refused(path: Path) -> None:
    Store.open(path, PROBES, migrations=(*MIGRATIONS, LATER)).close()
    before = path.read_bytes()
    for opening in (lambda: Store.open(path, PROBES), lambda: Reader.open(path)):
        with pytest.raises(StoreError, match=NEWER):
            opening()
    assert path.read_bytes() == before


def test_a_store_from_an_older_program_is_not_for_readers(path: Path) -> None:
    a_store(path)
    db = sqlite3.connect(path)
    db.execute("PRAGMA user_version = 0")
    db.close()
    with pytest.raises(StoreError, match="older program: start the service"):
        Reader.open(path)


@pytest.mark.parametrize(
    "content",
    [
        b"time,ph\n2026-06-01T00:00Z,7.1\n" * 100,
        b"x",
        b"x" * 511,
        b"x" * 700,
        b"SQLite format 3\0" + b"\xff" * 2000,
    ],
)
def test_a_file_that_is_no_database_is_refused_and_left_alone(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    for opening in (lambda: Store.open(path, PROBES), lambda: Reader.open(path)):
        with pytest.raises(StoreError, match=r"heron-lane\.db: it is (no SQLite database|damaged).*move it away"):
            opening()
    assert path.read_bytes() == content


def test_another_programs_database_is_refused(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    for opening in (lambda: Store.open(path, PROBES), lambda: Reader.open(path)):
        with pytest.raises(StoreError, match=r"heron-lane\.db.*another kind.*path of its own"):
            opening()


def test_a_damaged_page_is_found_when_the_store_is_opened(path: Path) -> None:
    a_store(path, readings=2000)
    content = bytearray(path.read_bytes())
    content[30 * 1024 : 31 * 1024] = os.urandom(1024)
    path.write_bytes(content)
    with pytest.raises(StoreError, match=r"heron-lane\.db: it is damaged: .*backup"):
        Store.open(path, PROBES)


def test_an_empty_file_becomes_a_store(path: Path) -> None:
    path.touch()
    a_store(path)


def test_a_folder_or_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="folder exists"):
        Store.open(tmp_path / "missing" / "heron-lane.db", PROBES)
    with pytest.raises(StoreError, match="cannot be opened"):
        Store.open(tmp_path, PROBES)
    with pytest.raises(StoreError, match="there is no such file"):
        Reader.open(tmp_path / "heron-lane.db")


def test_a_senders_slip_into_the_future_does_not_end_the_record(path: Path) -> None:
    a_store(path)
    with Store.open(path, PROBES) as store:
        store.commit(Batch([Reading("ph", 10**12, 7.0, 1003, Flag.NOT_EVALUATED, Reason.AHEAD_OF_CLOCK)]))
        store.commit(Batch([Reading("water", 10**12, 9.0, 1003, Flag.NOT_EVALUATED, Reason.AHEAD_OF_CLOCK)]))
    with Reader.open(path) as reader:
        assert reader.span() == {"ph": (1000, 1002)}
        assert reader.latest("ph") == Reading("ph", 1002, 7.0, 1002, Flag.GOOD, Reason.NONE)


def test_a_path_with_odd_characters_is_taken_as_it_is(tmp_path: Path) -> None:
    odd = tmp_path / "a pond?mode=rw&x#50%.db"
    a_store(odd)
    with Reader.open(odd) as reader:
        assert reader.span() == {"ph": (1000, 1002)}


def test_a_second_writer_is_refused_until_the_first_has_closed(store: Store, path: Path) -> None:
    with pytest.raises(StoreError, match="another dawnline process"):
        Store.open(path, PROBES)
    store.close()
    Store.open(path, PROBES).close()


def test_a_probe_whose_quantity_changed_is_refused_and_changes_nothing(path: Path) -> None:
    a_store(path)
    with pytest.raises(StoreError, match=r"'ph' has readings of ph here, and is configured as electrode_mv.*name"):
        Store.open(path, [("new", "ph"), ("ph", "electrode_mv")])
    with Reader.open(path) as reader:
        assert reader.probes() == dict(PROBES)


def test_probes_keep_their_readings_when_others_come_and_go(path: Path) -> None:
    a_store(path)
    with Store.open(path, [("air", "temperature"), ("ph", "ph")]) as store:
        store.commit(Batch([Reading("air", 5, 20.0, 5, Flag.GOOD, Reason.NONE)]))
        with pytest.raises(StoreError, match="no probe 'pool'"):
            store.commit(Batch([Reading("pool", 5, 20.0, 5, Flag.GOOD, Reason.NONE)]))
    with Reader.open(path) as reader:
        assert reader.probes() == {"ph": "ph", "water": "temperature", "air": "temperature"}
        assert reader.span() == {"ph": (1000, 1002), "air": (5, 5)}
