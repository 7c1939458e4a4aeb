from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from dawnline.errors import DamagedStoreError, StoreError
from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.inbox import Inbox, inbox_path
from dawnline.store.reader import Reader
from dawnline.store.schema import MIGRATIONS
from dawnline.store.store import Store
from dawnline.store.upkeep import backup, compact, damaged, emptied, restore, set_aside, verify

PROBES = [("ph", "ph")]


def add(store: Store, first: int, last: int) -> None:
    store.commit(Batch([Reading("ph", at, 7.0, at, Flag.GOOD, Reason.NONE) for at in range(first, last + 1)]))


def span(path: Path) -> tuple[int, int]:
    with Reader.open(path) as reader:
        return reader.span()["ph"]


def test_a_backup_is_one_moment_of_a_store_in_use(store: Store, path: Path, tmp_path: Path) -> None:
    add(store, 1, 100)
    backup(path, tmp_path / "copy.db")
    add(store, 101, 200)
    assert span(tmp_path / "copy.db") == (1, 100)
    verify(tmp_path / "copy.db")
    assert not list(tmp_path.glob("*.part*"))
    Store.open(tmp_path / "copy.db", PROBES).close()
    with pytest.raises(StoreError, match=r"copy\.db.*new name"):
        backup(path, tmp_path / "copy.db")


def test_a_restored_store_is_the_backup_and_the_other_is_kept(path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    store = Store.open(path, PROBES)
    add(store, 1, 100)
    backup(path, copy)
    add(store, 101, 200)
    with pytest.raises(StoreError, match="another dawnline process"):
        restore(copy, path)
    with Reader.open(path):  # a reader keeps the log in being, with rows in it
        store.close()
        aside = restore(copy, path)
    assert aside is not None
    assert span(path) == (1, 100)
    assert span(aside) == (1, 200)
    assert restore(copy, tmp_path / "new.db") is None
    assert span(tmp_path / "new.db") == (1, 100)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can make files for others")
def test_what_root_restores_the_service_can_still_write(path: Path, tmp_path: Path) -> None:
    with Store.open(path, [("ph", "ph")]):
        pass
    backup(path, tmp_path / "copy.db")
    os.chown(path, 1234, 1235)
    path.with_name(path.name + ".lock").unlink()
    restore(tmp_path / "copy.db", path)
    for each in (path, path.with_name(path.name + ".lock")):
        assert (each.stat().st_uid, each.stat().st_gid) == (1234, 1235)
    os.chown(path.parent, 1234, 1235)
    Inbox.open(inbox_path(path)).close()
    assert inbox_path(path).stat().st_uid == 1234


def test_a_backup_that_is_not_whole_replaces_nothing(path: Path, tmp_path: Path) -> None:
    with Store.open(path, PROBES) as store:
        add(store, 1, 2000)
    copy = tmp_path / "copy.db"
    content = bytearray(path.read_bytes())
    content[30 * 1024 : 31 * 1024] = b"\xa5" * 1024
    copy.write_bytes(content)
    with pytest.raises(StoreError, match=r"copy\.db: it is damaged"):
        verify(copy)
    with pytest.raises(StoreError, match=r"copy\.db: it is damaged"):
        restore(copy, path)
    assert span(path) == (1, 2000)


def test_a_store_of_an_older_program_is_copied_as_it_is_and_brought_up_to_date_at_the_next_start(
    path: Path, tmp_path: Path
) -> None:
    copy, back = tmp_path / "copy.db", tmp_path / "back.db"
    Store.open(path, PROBES, migrations=MIGRATIONS[:3]).close()
    with pytest.raises(StoreError, match="older program"):
        Reader.open(path)
    verify(path)
    backup(path, copy)
    restore(copy, back)
    with closing(sqlite3.connect(back)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (3,)
    with Store.open(back, PROBES) as store:
        add(store, 1, 3)
    assert span(back) == (1, 3)


def test_an_empty_file_is_no_backup(path: Path, tmp_path: Path) -> None:
    with Store.open(path, PROBES) as store:
        add(store, 1, 3)
    (tmp_path / "copy.db").touch()
    with pytest.raises(StoreError, match=r"copy\.db.*nothing in it"):
        restore(tmp_path / "copy.db", path)
    assert span(path) == (1, 3)


def test_compacting_gives_room_back(store: Store, path: Path) -> None:
    add(store, 1, 5000)
    with pytest.raises(StoreError, match="another dawnline process"):
        compact(path)
    store._db.execute("DELETE FROM readings WHERE at > 100")
    store.close()
    before, after = compact(path)
    assert after < before / 2
    assert after == path.stat().st_size
    assert span(path) == (1, 100)
    with pytest.raises(StoreError, match="no such file"):
        compact(path.with_name("other.db"))


def test_a_damaged_store_is_set_aside_with_its_log_and_nothing_is_deleted(path: Path) -> None:
    with Store.open(path, PROBES) as store:
        add(store, 1, 5000)
    content = bytearray(path.read_bytes())
    content[4096:-4096] = b"\xa5" * (len(content) - 8192)
    path.write_bytes(content)
    log = path.with_name(path.name + "-wal")
    log.write_bytes(b"a log")
    with pytest.raises(DamagedStoreError, match="damaged"):
        Store.open(path, PROBES)
    log.write_bytes(b"a log")
    aside = set_aside(path, 1_700_000_000_000)
    assert aside.name == "heron-lane.damaged-20231114T221320Z.db"
    assert aside.read_bytes() == bytes(content)
    assert aside.with_name(aside.name + "-wal").read_bytes() == b"a log"
    assert damaged(path) == [aside]
    with Store.open(path, PROBES) as store:
        assert store.cursor() is None


def test_a_file_without_our_mark_is_not_set_aside(path: Path) -> None:
    path.write_bytes(b"SQLite format 3\0" + bytes(5000))
    with pytest.raises(StoreError, match="yourself"):
        set_aside(path, 0)
    assert path.exists()


@pytest.mark.parametrize("content", [b"\xa5" * 5000, b"\0" * 5000, b"\xa5" * 100])
def test_a_file_without_its_head_is_known_by_the_inbox_beside_it(path: Path, content: bytes) -> None:
    with Store.open(path, PROBES) as store:
        add(store, 1, 100)
    Inbox.open(inbox_path(path)).close()
    path.write_bytes(content)
    with pytest.raises(DamagedStoreError):
        Store.open(path, PROBES)
    assert set_aside(path, 0).read_bytes() == content
    Store.open(path, PROBES).close()


def test_a_store_cut_down_to_nothing_is_no_new_one(path: Path) -> None:
    path.touch()
    assert not emptied(path)
    Inbox.open(inbox_path(path)).close()
    assert emptied(path)
    assert set_aside(path, 0).stat().st_size == 0
    assert not emptied(path)
