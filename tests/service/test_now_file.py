from __future__ import annotations

import json
import os
import shutil
import threading
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from dawnline.service import now_file
from dawnline.service.clock import wall_s
from dawnline.service.now_file import NowFile, is_current, read


@pytest.fixture(autouse=True)
def runtime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "runtime"
    monkeypatch.setattr(now_file, "folders", lambda: [folder])
    return folder


def present(**more: object) -> dict[str, object]:
    return {"pid": os.getpid(), "written_at": wall_s(), **more}


def test_a_reader_never_sees_half_a_file(tmp_path: Path) -> None:
    file, done = NowFile(tmp_path / "pond.db"), threading.Event()

    def write() -> None:
        for number in range(300):
            file.write(present(number=number, text="x" * (number * 37 % 20_000)))
        done.set()

    file.write(present(number=-1, text=""))
    writer = threading.Thread(target=write)
    writer.start()
    seen = []
    while not done.is_set():
        seen.append(json.loads(file.path.read_text(encoding="utf-8"))["number"])
    writer.join()
    assert seen == sorted(seen)
    assert len(set(seen)) > 3


def test_a_folder_swept_away_costs_nothing(tmp_path: Path, runtime: Path) -> None:
    file = NowFile(tmp_path / "pond.db")
    file.write(present(number=1))
    shutil.rmtree(runtime)
    file.write(present(number=2))
    data = read(tmp_path / "pond.db")
    assert data is not None
    assert data["number"] == 2


def test_where_it_cannot_be_written_the_watch_goes_on_and_says_so_once(tmp_path: Path, runtime: Path) -> None:
    file = NowFile(tmp_path / "pond.db")
    shutil.rmtree(runtime)
    runtime.write_text("in the way", encoding="utf-8")
    with capture_logs() as logged:
        file.write(present())
        file.write(present())
        file.remove()
    assert [row["event"] for row in logged] == ["present-not-written"]
    runtime.unlink()
    file.write(present(number=3))
    assert read(tmp_path / "pond.db") is not None


@pytest.mark.parametrize("content", ["", "{", "[]", '{"written_at": "x"}', '{"pid": 1}', "\udcff"])
def test_a_file_that_is_no_present_is_none(tmp_path: Path, content: str) -> None:
    file = NowFile(tmp_path / "pond.db")
    file.path.write_bytes(content.encode("utf-8", "surrogateescape"))
    assert read(tmp_path / "pond.db") is None


def test_an_old_present_and_one_of_a_dead_process_are_not_current() -> None:
    assert is_current(present())
    assert not is_current(present(written_at=wall_s() - 60))
    assert not is_current(present(pid=2**22 + 1))  # above every process id that Linux gives (kernel's PID_MAX_LIMIT)
