"""Provisional time when the power goes again: a cut at every statement of dating, and restarts."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.reading import Flag, Reason, Sample
from dawnline.service.core import Core
from dawnline.service.resume import resume
from dawnline.store.store import Store

from .unset_board import MONTHS_MS, Bench, changes, with_an_hour
from .wire import PowerCutError


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """Its power goes in each of these."""
    return with_an_hour(tmp_path)


def values(bench: Bench) -> set[float]:
    """What is on the disk, dated or not."""
    with Store.open(bench.settings.store.path, [("ph", "ph")], check=False) as store:
        stretch = store.stretch()
        waiting = store.provisional_journal(stretch) if stretch else iter(())
        return {e.value for e in waiting if isinstance(e, Sample)} | {each.value for each in bench.record()}


class Cutting:
    """The store's connection until the power goes, at the given statement from now on."""

    def __init__(self, db: Any, statements: int) -> None:
        self.db, self.left = db, statements

    def __getattr__(self, name: str) -> Any:
        return getattr(self.db, name)

    def execute(self, text: str, *values: Any) -> Any:
        if text != "ROLLBACK":
            self._count()
        return self.db.execute(text, *values)

    def executemany(self, text: str, values: Any) -> Any:
        self._count()
        return self.db.executemany(text, values)

    def _count(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise PowerCutError


def cut_while_dating(bench: Bench, statements: int) -> bool:
    """Whether the power went before dating was done."""

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 4, lambda n: 6.3)
        for number in range(3):  # these wait in the queue when the clock becomes known
            next(bench.measure(core, 1, lambda n, more=number: 6.3 + more))  # type: ignore[misc]
        core.store._db = Cutting(core.store._db, statements)  # type: ignore[assignment]
        yield from bench.become_known(core)
        core.store._db = core.store._db.db  # type: ignore[attr-defined]

    try:
        bench.run(story)
    except PowerCutError:
        return True
    return False


@pytest.mark.parametrize("reboot", [False, True])
def test_a_power_cut_at_any_statement_loses_and_doubles_nothing(tmp_path: Path, *, reboot: bool) -> None:
    statements, cut = 0, True
    while cut:
        folder = tmp_path / str(statements)
        folder.mkdir()
        bench = Bench(folder)
        bench.run(lambda core, bench=bench: bench.measure(core, 5))  # type: ignore[misc]
        bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
        cut = cut_while_dating(bench, statements)
        found = values(bench)
        assert {bench.measured[mid][1] for mid in bench.wire.acknowledged} <= found
        bench.measured = [each for each in bench.measured if each[1] in found]  # the broker sends the others again
        if reboot:
            bench.board.cut_power(HOUR_MS, 0)

        def story(core: Core, bench: Bench = bench) -> Iterator[None]:
            yield from bench.become_known(core)
            yield from bench.measure(core, 3, lambda n: 6.3)

        bench.run(story)
        record = bench.record()
        assert [each.value for each in record] == [value for _, value in bench.measured]
        assert all(later.at > earlier.at for earlier, later in pairwise(record))
        undated = [each for each in record if each.reason is Reason.UNDATED]
        assert len(undated) == (len(bench.measured) - 8 if reboot and cut else 0)
        if not undated:
            assert [(each.at, each.value) for each in record] == bench.measured
        statements += 1
    assert statements > 25


def test_what_an_earlier_boot_left_undated_stays_so(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    bench.run(lambda core: bench.measure(core, 20))
    bench.board.cut_power(2 * HOUR_MS, -MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 20)
        yield from bench.become_known(core)
        yield from bench.measure(core, 20)

    bench.run(story)
    record = bench.record()
    assert [each.value for each in record] == [value for _, value in bench.measured]
    assert all(later.at > earlier.at for earlier, later in pairwise(record))
    lost, dated = record[60:80], record[:60] + record[80:]
    assert {(each.flag, each.reason) for each in lost} == {(Flag.NOT_EVALUATED, Reason.UNDATED)}
    assert not [each for each in dated if each.reason is Reason.UNDATED]
    assert [(each.at, each.value) for each in dated] == bench.measured[:60] + bench.measured[80:]
    assert changes(bench.transitions(), "no-data") == []


def test_after_a_mere_restart_in_the_same_boot_all_can_still_be_dated(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    for _ in range(3):
        bench.run(lambda core: bench.measure(core, 20))
        bench.board.pass_ms(7 * MINUTE_MS)  # the service is down
    bench.board.set_clock()  # while nobody looks

    def story(core: Core) -> Iterator[None]:
        yield from bench.become_known(core)
        yield from bench.measure(core, 3)

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.replayed()[0] == bench.record()


def test_a_restart_gives_the_provisional_memory_again(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    core = bench.run(lambda core: bench.measure(core, 45, lambda n: 6.3))
    with Store.open(bench.settings.store.path, [("ph", "ph")], check=False) as store:
        again = resume(bench.settings, store)
    assert again.unset.since == core.pipeline.unset.since
    assert again.save() == core.pipeline.save()


def test_a_boot_whose_clock_was_known_stays_known(bench: Bench) -> None:
    bench.board.is_set = False  # time synchronisation has been away for a while, and the kernel says so
    core = bench.run(lambda core: bench.measure(core, 5))
    assert core.clock.stretch is None
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
