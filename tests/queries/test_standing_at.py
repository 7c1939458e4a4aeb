"""Which alarms stood when a stretch of time began."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from dawnline.duration import DAY_MS
from dawnline.event import Transition
from dawnline.queries.standing_at import standing_at
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

START = 1_780_000_000_000


def row(number: int, days: int, change: Any) -> Transition:
    at = START + days * DAY_MS
    return Transition(number, at, at, "ph-low", change, "high", "ph", 6.4, "text", "")


def test_what_had_not_ended_stood_with_all_that_was_told_of_it(tmp_path: Path) -> None:
    rows = [
        row(1, -300, "raised"),  # too long ago
        row(2, -40, "raised"), row(2, -39, "acknowledged"), row(3, -38, "raised"), row(3, -37, "returned"),
        row(4, -9, "raised"), row(5, 1, "raised"), row(4, 2, "returned"),
    ]  # fmt: skip
    with Store.open(tmp_path / "pond.db", [("ph", "ph")]) as store:
        store.commit(Batch(transitions=rows))
    with Reader.open(tmp_path / "pond.db") as reader:
        assert standing_at(reader, START) == [rows[1], rows[2], rows[5]]
