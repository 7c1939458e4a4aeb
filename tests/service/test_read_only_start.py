"""A start on a card that takes nothing: the watch goes on from what can be read, and writes when it can."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any

import pytest

from dawnline.duration import MINUTE_MS
from dawnline.errors import StoreError
from dawnline.reading import Flag, Reading, Reason
from dawnline.service.core import Core
from dawnline.service.keeping import State
from dawnline.service.open_store import open_store
from dawnline.store import connection
from dawnline.store.batch import Batch
from dawnline.store.provisional import Stretch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

from .refusing_card import Bench, told
from .small_card import Card, falling_by, watching

Eventually = Callable[..., None]


class Door:
    """The lock beside the store, which a read-only card does not let anybody make."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, number: int = errno.EROFS) -> None:
        self.shut, self.number = True, number
        self.lock = connection.lock
        monkeypatch.setattr(connection, "lock", self)

    def __call__(self, path: Path) -> IO[str]:
        if self.shut:
            error = OSError(self.number, os.strerror(self.number))
            raise StoreError(f"store {path}: cannot create it ({error.strerror})") from error
        return self.lock(path)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path, monkeypatch)


def test_it_goes_on_from_what_is_there_and_writes_when_it_can(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.run(lambda core: bench.measure(core, 20))
    door = Door(monkeypatch)
    store = open_store(bench.settings, bench.at)
    before = len(bench.record())

    def story(core: Core) -> Iterator[None]:
        assert core.pipeline.now >= bench.at - MINUTE_MS  # it knows what was before
        yield from bench.measure(core, 40, 7.0, 0.02)
        yield from bench.measure(core, 10, 6.2)
        assert core.keeping.state() == (State.HOLDING, f"store {bench.path}: cannot create it (Read-only file system)")
        assert [subject.partition(": ")[2].partition(" (")[0] for _, subject in told(bench)][:1] == ["pH is low"]
        assert len(bench.record()) == before
        assert sorted(bench.wire.acknowledged) == list(range(20))
        door.shut = False
        yield from bench.measure(core, 5, 6.2)
        assert core.keeping.state()[0] is State.WELL

    bench.run(story, store)
    assert [each.value for each in bench.record()] == bench.measured
    assert sorted(bench.wire.acknowledged) == list(range(len(bench.measured)))
    assert [each.change for each in bench.transitions()] == ["raised"]
    assert [each.change for each in bench.transitions(of_the_store=True)] == ["raised"]


def test_a_pond_without_a_file_is_watched_too(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    door = Door(monkeypatch)
    store = open_store(bench.settings, bench.at)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 30)
        door.shut = False
        yield from bench.measure(core, 5)

    assert not bench.path.exists()
    bench.run(story, store)
    assert [each.value for each in bench.record()] == bench.measured


@pytest.mark.parametrize("number", [errno.ENOENT, errno.EACCES])
def test_a_path_that_cannot_be_right_ends_the_start(bench: Bench, monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    Door(monkeypatch, number)
    with pytest.raises(StoreError, match="cannot create it"):
        open_store(bench.settings, bench.at)


def test_a_probe_of_another_quantity_ends_the_start_here_too(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    Store.open(bench.path, [("ph", "temperature")]).close()
    Door(monkeypatch)
    with pytest.raises(StoreError, match="cannot create it"):
        open_store(bench.settings, bench.at)


def test_what_an_earlier_boot_left_undated_enters_the_record_once_it_can(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    stretch = Stretch("an earlier boot", 1000, 500)
    rows = [Reading("ph", 1000 + n, 7.0, 1000 + n, Flag.GOOD, Reason.NONE) for n in range(3)]
    with Store.open(bench.path, [("ph", "ph")]) as store:
        store.commit(Batch(readings=rows, stretch=stretch, cursor=1002))
    door = Door(monkeypatch)
    with open_store(bench.settings, bench.at) as store:
        assert store.stretch() == stretch
        store.leave_undated()
        assert store.stretch() is None
        with pytest.raises(StoreError):
            store.commit(Batch(cursor=2000))
        with pytest.raises(StoreError):
            store.reopen()
        assert store.cursor() == 1002
        assert bench.record() == []
        door.shut = False
        store.reopen()
        store.commit(Batch(cursor=2000))
    assert [each.flag for each in bench.record()] == [Flag.NOT_EVALUATED] * 3


@pytest.mark.parametrize("killed", [False, True])
def test_the_service_starts_on_a_read_only_card(
    killed: bool, image: Any, tmp_path: Path, eventually: Eventually
) -> None:
    pond, falling = Card(image.path, tmp_path), falling_by(1 / 200)

    def remount(how: str) -> None:
        subprocess.run(["mount", "-o", f"remount,{how}", str(image.path)], check=True)

    def recorded() -> bool:
        with Reader.open(image.path / "pond.db") as reader:
            return reader.latest("ph") is not None

    with watching(pond, eventually, DAWNLINE_CLOCK_RATE="300"):
        eventually(pond.measuring(recorded), "a reading in the record")
        pond.stop(sig=signal.SIGKILL if killed else signal.SIGTERM)
        remount("ro")
        begun = pond.log.count("watching")
        pond.start(DAWNLINE_CLOCK_RATE="300")
        eventually(lambda: pond.log.count("watching") > begun, "watching")
        eventually(pond.measuring(lambda: "pH is low" in pond.out, falling), "ph-low is told")
        raised = '"alarm": "store-failing", "change": "raised"'
        eventually(pond.measuring(lambda: raised in pond.log, falling), "its alarm")
        status = pond.command("status")
        assert "the card has become read-only" in status.stdout, status
        assert pond.recorded()  # others read it, too
        remount("rw")
        eventually(lambda: "store-well-again" in pond.log, "all written")
        assert pond.stop() == 0
        assert pond.command("store", "verify").returncode == 0
        assert len(pond.recorded()) > 100
