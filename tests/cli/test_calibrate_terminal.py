"""The way through buffers at a terminal: a probe that the service does not know any more, a screen of any width."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from dawnline.cli.probes_walk import Stopped, WalkTerminal
from dawnline.electrode.buffers import BUFFERS
from dawnline.electrode.calibration import IDEAL
from dawnline.electrode.walk import Walk
from dawnline.service.now_file import NowFile
from dawnline.settings import load
from dawnline.store.store import Store

HELD = {"quantity": "ph", "out_until": None, "calibration": {"time": None, "slope": 1.0, "offset": 0.0}}


def running(folder: Path, *probes: str) -> None:
    present = {"pid": os.getpid(), "written_at": time.time(), "started_at": time.time()}
    NowFile(folder / "pond.db").write({**present, "probes": dict.fromkeys(probes, HELD)})


@pytest.fixture(autouse=True)
def _no_keyboard(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with Path(os.devnull).open(encoding="utf-8") as nobody:
        monkeypatch.setattr("sys.stdin", nobody)
        yield


def test_it_is_not_begun(folder: Path, call: Any) -> None:
    with Store.open(folder / "pond.db", [("ph", "ph"), ("water", "temperature")]):
        running(folder, "glass")
        found = call("probes", "calibrate", "ph", "--buffers", "7")
    assert (found.status, found.out) == (1, "")
    assert "the running service knows no probe ph" in found.err


def test_it_stops_in_the_middle(folder: Path) -> None:
    settings = load(folder / "dawnline.toml")
    running(folder, "ph", "water")
    terminal = WalkTerminal(settings, settings.probes[0])
    assert terminal.calibration()[0].never
    running(folder, "glass", "water")
    with pytest.raises(Stopped, match="knows no probe ph"):
        terminal._newest()


@pytest.mark.parametrize("columns", [20, 40, 80, 200])
def test_a_reading_that_settles_stays_on_its_line(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    settings = load(folder / "dawnline.toml")
    monkeypatch.setenv("COLUMNS", str(columns))
    terminal = WalkTerminal(settings, settings.probes[0])
    terminal.overwrites = True
    walk = Walk("ph", IDEAL["ph"], [BUFFERS["10.01"]])
    walk.immersed(20.0)
    for second in range(5):
        walk.see(1000 * second, 10.0 - second)
        terminal._show(walk, 10.0 - second)
    shown = capsys.readouterr().out
    assert "\n" not in shown
    assert {len(line) for line in shown.split("\r")[1:]} == {columns - 1}
    assert "  pH 10.00, pH 10" in shown
