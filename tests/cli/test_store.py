"""`dawnline store`: what the keeper does with the file itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

ROWS = "time,ph\n" + "".join(f"2026-06-08T{h:02d}:{m:02d}Z,7.{m % 10}\n" for h in range(24) for m in range(60))


@pytest.fixture
def filled(replay: Callable[..., Any]) -> None:
    """A store with a day in it."""
    assert replay(ROWS, "--store", "pond.db").status == 0


@pytest.mark.usefixtures("filled")
def test_a_backup_is_whole_and_can_be_put_back(folder: Path, call: Callable[..., Any]) -> None:
    assert call("store", "backup", "copy.db").status == 0
    assert call("store", "verify", "copy.db").out == "copy.db: whole\n"
    (folder / "pond.db").write_bytes(b"spoilt" * 1000)
    assert call("store", "verify").status == 1
    put = call("store", "restore", "copy.db")
    assert put.status == 0
    assert "pond.db.replaced-1" in put.out
    assert (folder / "pond.db.replaced-1").read_bytes().startswith(b"spoilt")
    assert call("store", "verify").status == 0
    assert call("readings", "--csv", "-").out.count("\n") == 1441


@pytest.mark.usefixtures("filled")
def test_a_backup_replaces_nothing(folder: Path, call: Callable[..., Any]) -> None:
    (folder / "copy.db").write_text("mine", encoding="utf-8")
    refused = call("store", "backup", "copy.db")
    assert refused.status == 1
    assert "new name" in refused.err
    assert (folder / "copy.db").read_text(encoding="utf-8") == "mine"


@pytest.mark.usefixtures("filled")
def test_compacting_says_what_it_gave_back(call: Callable[..., Any]) -> None:
    said = call("store", "compact")
    assert said.status == 0
    assert "MB before" in said.out


def test_without_a_store_it_says_so(call: Callable[..., Any]) -> None:
    for words in (["backup", "copy.db"], ["verify"], ["compact"]):
        said = call("store", *words)
        assert (said.status, "pond.db" in said.err) == (1, True), said
