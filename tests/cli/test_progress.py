"""Progress is said on a terminal, late and seldom, and nowhere else."""

from __future__ import annotations

import io

import pytest

from dawnline.cli import progress
from dawnline.cli.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    seconds = [0.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: seconds[0])
    return seconds


def test_on_a_terminal_it_says_what_is_done_and_goes(monkeypatch: pytest.MonkeyPatch, now: list[float]) -> None:
    monkeypatch.setattr("sys.stderr", terminal := Terminal())
    told = Progress("reading")
    for now[0], done in ((0.5, 0.1), (1.5, 0.3), (1.6, 0.4), (2.0, 0.5)):
        told(done)
    told.end()
    assert terminal.getvalue() == "\rreading: 30% \rreading: 50% \r\033[K"


def test_what_is_soon_done_says_nothing(monkeypatch: pytest.MonkeyPatch, now: list[float]) -> None:
    monkeypatch.setattr("sys.stderr", terminal := Terminal())
    told = Progress("reading")
    now[0] = 0.9
    told(1.0)
    told.end()
    assert terminal.getvalue() == ""


def test_a_file_gets_nothing(monkeypatch: pytest.MonkeyPatch, now: list[float]) -> None:
    monkeypatch.setattr("sys.stderr", file := io.StringIO())
    told = Progress("reading")
    now[0] = 9.0
    told(0.5)
    told.end()
    assert file.getvalue() == ""
