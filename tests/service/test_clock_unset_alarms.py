"""Alarms, screens and acts of provisional time move with the time they were made in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Act
from dawnline.service.core import Core
from dawnline.store.reader import Reader

from .unset_board import MONTHS_MS, Bench, changes, falling, with_an_hour


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """Its power goes in each of these."""
    return with_an_hour(tmp_path)


def test_an_alarm_of_provisional_time_is_one_episode(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    began_at = bench.board.true_ms

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 60, falling)
        raised = bench.transitions()
        assert [(t.alarm, t.change) for t in raised] == [("ph-low", "raised"), ("clock-unset", "raised")]
        assert all("the clock is not set" in t.text or "not known to be set" in t.text for t in raised)
        yield from bench.become_known(core)
        yield from bench.measure(core, 20, lambda n: 6.3)
        yield from bench.measure(core, 80, lambda n: min(6.7, 6.3 + 0.02 * n))

    bench.run(story)
    rows = bench.transitions()
    assert changes(rows, "ph-low") == [(1, "raised"), (1, "returned")]
    assert changes(rows, "clock-unset") == [(2, "raised"), (2, "returned")]
    assert [t.at for t in rows] == sorted(t.at for t in rows)
    low, unset, known, over = rows
    assert began_at + 21 * MINUTE_MS <= low.at <= began_at + 25 * MINUTE_MS
    assert began_at <= unset.since <= unset.at - 30 * MINUTE_MS
    assert known.at <= began_at + 62 * MINUTE_MS
    assert over.since == low.since
    assert "clock" not in over.text


def test_an_unset_clock_becomes_more_urgent_after_a_day(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    bench.run(lambda core: bench.measure(core, 25 * 12, every_ms=5 * MINUTE_MS))
    rows = [t for t in bench.transitions() if t.alarm == "clock-unset"]
    assert [(t.id, t.change, t.priority) for t in rows] == [(1, "raised", "low"), (1, "escalated", "medium")]


def test_a_silent_probe_is_told_on_provisional_time(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)

    def silence(minutes: int) -> Iterator[None]:
        for _ in range(minutes):
            bench.board.pass_ms(MINUTE_MS)
            yield

    def story(core: Core) -> Iterator[None]:
        yield from silence(15)
        yield from bench.become_known(core)
        yield from silence(15)

    bench.run(story)
    (raised,) = bench.transitions()
    assert (raised.alarm, raised.change) == ("no-data", "raised")
    assert "the clock is not set" in raised.text
    assert 4 * MINUTE_MS <= raised.at - raised.since <= 8 * MINUTE_MS


def test_acts_and_screens_move_with_the_time_they_were_made_in(bench: Bench) -> None:
    def act(core: Core, name: str, kind: str, **body: Any) -> Iterator[None]:
        core.intake.put_other(lambda stamp: Act(name, stamp, kind, body, "ada"))
        yield

    def before(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 40, falling)
        yield from act(core, "early", "shelve", id=1, **{"for": "24h"})

    bench.run(before)
    early_until = bench.board.true_ms + 24 * HOUR_MS
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 28, lambda n: max(5.8, 6.3 - 0.02 * n))
        yield from act(core, "late", "shelve", id=2, **{"for": "2h"})
        late_until = bench.board.true_ms + 2 * HOUR_MS
        yield from bench.become_known(core)
        until = {alarm: memory.shelved_until for alarm, _, memory in core.pipeline.desk.active()}
        assert until["ph-low"] == pytest.approx(early_until, abs=1000)
        assert until["ph-crash"] == pytest.approx(late_until, abs=1000)
        with Reader.open(bench.settings.store.path) as reader:
            noted = {row.act.id: row.act.at for row in reader.acts(0, 1 << 60)}
        assert noted["late"] == pytest.approx(late_until - 2 * HOUR_MS, abs=1000)

    bench.run(story)
