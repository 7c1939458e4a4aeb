"""A full card on a board that does not know the time: what cannot be dated yet waits, and the watch goes on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from dawnline.duration import HOUR_MS
from dawnline.service import keeping
from dawnline.service.core import Core
from dawnline.store import provisional
from dawnline.store.store import Store

from .unset_board import Bench, changes, falling, with_an_hour


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return with_an_hour(tmp_path)


def refuse(times: int) -> sqlite3.OperationalError | None:
    error = sqlite3.OperationalError("database or disk is full")
    error.sqlite_errorcode = sqlite3.SQLITE_FULL
    return error if times > 0 else None


@pytest.mark.parametrize("refusals", [1, 6])
def test_a_stretch_that_cannot_be_dated_at_once_is_dated_later(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, refusals: int
) -> None:
    monkeypatch.setattr(keeping, "RETRY_S", 0.0)
    forget, left = provisional.forget, [refusals]

    def last_statement(db: sqlite3.Connection) -> None:
        left[0] -= 1
        if (error := refuse(left[0] + 1)) is not None:
            raise error
        forget(db)

    monkeypatch.setattr(provisional, "forget", last_statement)
    bench.board.cut_power(8 * HOUR_MS, -9 * HOUR_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25, falling)
        yield from bench.become_known(core)
        for _ in range(30):
            core.presented_s = 0.0
            yield from bench.measure(core, 1, lambda _: 6.3)
        assert core.turned is None
        assert core.pending.stretch is None
        yield from bench.measure(core, 10, lambda _: 6.3)

    bench.run(story)
    assert left[0] < 0
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.replayed()[0] == bench.record()
    found = bench.transitions()
    assert changes(found, "ph-low")[:1] == [(found[0].id, "raised")]
    assert len([each for each in found if (each.alarm, each.change) == ("ph-low", "raised")]) == 1


def test_a_stretch_begins_on_a_full_card(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also the checkpoint that the dating needs is held, and written when there is room."""
    monkeypatch.setattr(keeping, "RETRY_S", 0.0)
    commit, left = Store.commit, [8]

    def full(self: Store, *batches: object) -> frozenset[str]:
        left[0] -= 1
        if (error := refuse(left[0] + 1)) is not None:
            from dawnline.store.failure import failure

            raise failure(self.path, error)
        return commit(self, *batches)  # type: ignore[arg-type]

    monkeypatch.setattr(Store, "commit", full)
    bench.board.cut_power(8 * HOUR_MS, -9 * HOUR_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25)
        yield from bench.become_known(core)
        yield from bench.measure(core, 25)

    bench.run(story)
    assert left[0] < 0
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.replayed()[0] == bench.record()
