"""The service on a small file system of its own, filled to the brim, emptied, made read-only, put right."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from .small_card import Card, falling_by, watching

Eventually = Callable[..., None]
FAST = {"DAWNLINE_CLOCK_RATE": "300"}
RAISED = '"alarm": "store-failing", "change": "raised"'


def test_a_full_card_and_then_room(small: Path, tmp_path: Path, eventually: Eventually) -> None:
    pond = Card(small, tmp_path)
    with watching(pond, eventually, **FAST):
        eventually(pond.measuring(lambda: pond.said > 20), "some readings")
        pond.fill()
        eventually(pond.measuring(lambda: "store-failing" in pond.log), "a refusal")
        eventually(pond.measuring(lambda: "pH is low" in pond.out, falling_by(1 / 200)), "ph-low is told")
        eventually(pond.measuring(lambda: RAISED in pond.log), "its alarm")
        status = pond.command("status")
        assert status.returncode == 1
        assert "the disk is full" in status.stdout
        (small / "filler").unlink()
        eventually(lambda: "store-well-again" in pond.log, "all written")
        assert pond.stop() == 0
    assert len(pond.recorded()) == pond.count
    letters = re.findall(r"Heron Lane: .*", pond.out)
    assert len(set(letters)) == len(letters)


def test_a_start_on_a_full_card(small: Path, tmp_path: Path, eventually: Eventually) -> None:
    """After a stop in good order, which has removed SQLite's own files."""
    pond = Card(small, tmp_path)
    with watching(pond, eventually):
        assert pond.stop() == 0
        pond.fill()
        before = pond.log.count("watching")
        pond.start(**FAST)
        eventually(lambda: pond.log.count("watching") > before, "watching on a full card")
        eventually(lambda: RAISED in pond.log, "its alarm")
        (small / "filler").unlink()
        eventually(lambda: "store-well-again" in pond.log, "all written")
        assert pond.stop() == 0


def test_killed_while_the_card_is_full(small: Path, tmp_path: Path, eventually: Eventually) -> None:
    pond = Card(small, tmp_path)
    with watching(pond, eventually, **FAST):

        def refused() -> bool:
            pond.measure()
            if pond.said == 21:
                pond.fill()
            return "store-failing" in pond.log

        eventually(refused, "a refusal")
        pond.kill()
        before = pond.log.count("watching")
        pond.start()  # still full
        eventually(lambda: pond.log.count("watching") > before, "watching again, on a full card")
        (small / "filler").unlink()
        pond.measure()
        assert pond.stop() == 0
        assert pond.command("store", "verify").returncode == 0


def test_a_card_that_turns_read_only(image: Any, tmp_path: Path, eventually: Eventually) -> None:
    """As ext4 makes it after an error: it stays so until it is checked."""
    pond = Card(image.path, tmp_path)
    with watching(pond, eventually, **FAST):

        def raised() -> bool:
            pond.measure()
            if pond.count == 100:
                image.fail()
            return RAISED in pond.log

        eventually(raised, "its alarm")
        assert pond.stop() == 1
    assert "are lost with this end" in pond.log.splitlines()[-1]
