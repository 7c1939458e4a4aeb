"""A board that does not know the time: its provisional time is dated when the clock is known."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.event import Act
from dawnline.probes.intake import Arrival
from dawnline.reading import Flag
from dawnline.service.core import Core
from dawnline.service.snapshot import snapshot
from dawnline.store.inbox import Inbox, inbox_path
from dawnline.store.reader import Reader

from .unset_board import MONTHS_MS, Bench, Board, changes, falling, with_an_hour


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """Its power goes in each of these."""
    return with_an_hour(tmp_path)


@pytest.mark.parametrize("wrong_ms", [-MONTHS_MS, -9 * HOUR_MS, -3_000, 3_000, HOUR_MS, MONTHS_MS])
def test_readings_get_their_true_times(bench: Bench, wrong_ms: int) -> None:
    bench.board.cut_power(8 * HOUR_MS, wrong_ms)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25)
        assert len(bench.record()) == 60
        yield from bench.become_known(core)
        yield from bench.measure(core, 25)

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.replayed()[0] == bench.record()


@pytest.mark.parametrize("ahead_ms", [3_000, 5 * HOUR_MS, MONTHS_MS])
def test_where_the_record_was_ahead_of_the_truth_it_goes_on(bench: Bench, ahead_ms: int) -> None:
    bench.board.cut_power(-ahead_ms, -MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25)
        yield from bench.become_known(core)
        yield from bench.measure(core, 25)
        assert bool(core.clock.behind_ms) == (ahead_ms > 10_000)

    bench.run(story)
    assert [each.value for each in bench.record()] == [value for _, value in bench.measured]
    steps = [b.at - a.at for a, b in pairwise(bench.record())]
    assert 0 < min(steps) <= max(steps) <= MINUTE_MS + 10  # a stamp is never given twice
    assert bench.replayed()[0] == bench.record()


def test_a_new_store_waits_for_its_first_hour(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.board.cut_power(0, 30 * MONTHS_MS)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 25)
        yield from bench.become_known(core)

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured
    assert bench.transitions() == []


def test_an_entry_about_a_time_that_has_not_come_provisionally_waits_until_the_clock_is_set(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -8 * HOUR_MS)
    when = bench.board.true_ms - HOUR_MS
    verdicts: list[tuple[bool, str] | None] = []

    def story(core: Core) -> Iterator[None]:
        with Inbox.open(inbox_path(bench.settings.store.path)) as inbox:
            about_then = inbox.submit("hand-test", {"kh_dkh": 3, "when": when}, "ada")
            about_now = inbox.submit("note", {"note": "a heron"}, "ada")
            core.look_every_s = 0.0
            yield from bench.measure(core, 5)
            verdicts.append(inbox.verdict(about_then))
            yield from bench.become_known(core)
            yield from bench.measure(core, 5)
            verdicts.extend(inbox.verdict(each) for each in (about_then, about_now))

    bench.run(story)
    assert [each and each[0] for each in verdicts] == [None, True, True]


def test_what_was_refused_before_the_clock_was_set_stays_refused(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -8 * HOUR_MS)
    early = Act("early", 0, "hand-test", {"kh_dkh": 3, "when": bench.board.true_ms - HOUR_MS}, "ada")

    def story(core: Core) -> Iterator[None]:
        core.intake.put_other(lambda stamp: replace(early, at=stamp))
        yield from bench.measure(core, 5)
        yield from bench.become_known(core)
        [line] = core.pipeline.buffer.of("ph")
        assert not line.diary.entries

    bench.run(story)


def test_a_clock_set_by_hand_is_taken_note_of(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -7 * HOUR_MS)  # it stands after the record, as a saved clock does

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 5)
        core.presented_s = 0.0
        yield from bench.measure(core, 5)
        assert core.clock.stretch is not None
        bench.board.wrong_ms = -365 * DAY_MS  # a slip of the hand: before the record
        core.presented_s = 0.0
        yield from bench.measure(core, 5)
        assert core.clock.stretch is not None
        bench.board.wrong_ms = 0
        core.presented_s = 0.0
        yield from bench.measure(core, 5)
        assert core.clock.stretch is None

    bench.run(story)
    assert [(each.at, each.value) for each in bench.record()] == bench.measured


@pytest.mark.parametrize("provisional", [False, True])
@pytest.mark.parametrize(
    ("evening", "date", "hours"),
    [("2026-03-28T20:00+01:00", "2026-03-29", 23), ("2026-10-24T20:00+02:00", "2026-10-25", 25)],
)
def test_days_at_the_change_of_summer_time_are_whole(
    tmp_path: Path, evening: str, date: str, hours: int, *, provisional: bool
) -> None:
    bench, every = Bench(tmp_path), 4 * MINUTE_MS
    bench.board = Board(evening)
    bench.run(lambda core: bench.measure(core, 15, every_ms=every))
    bench.board.cut_power(HOUR_MS, -MONTHS_MS if provisional else 0)
    bench.board.is_set = not provisional

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 20 * 15, every_ms=every)
        assert len(bench.days()) == (0 if provisional else 1)
        assert bool(snapshot(core.pipeline, bench.settings)["today"]) is not provisional
        if provisional:
            yield from bench.become_known(core)
        yield from bench.measure(core, 16 * 15, every_ms=every)

    bench.run(story)
    eve, day = bench.days()
    assert (eve.coverage, day.date) == (pytest.approx(3 / 24, abs=0.02), date)
    assert day.coverage == pytest.approx(1.0, abs=0.005)
    assert day.minutes_below == 0
    assert [eve, day] == bench.replayed()[1]
    with Reader.open(bench.settings.store.path) as reader:
        mornings = [str(datetime.fromtimestamp(each.at / 1000, bench.settings.pond.zone).date())
                    for each in reader.forecasts("buffer", 0, 1 << 60)]  # fmt: skip
    assert date in mornings
    zone = bench.settings.pond.zone
    held = [at for at, _ in bench.measured if str(datetime.fromtimestamp(at / 1000, zone).date()) == date]
    assert len(held) == pytest.approx(hours * 15, abs=1)
    assert [each.at for each in bench.record()] == [at for at, _ in bench.measured]


def test_a_senders_time_is_judged_when_ours_is_known(bench: Bench) -> None:
    bench.board.cut_power(8 * HOUR_MS, -MONTHS_MS)
    board, sent = bench.board, []

    def sender(core: Core, ages_ms: list[int], value: Callable[[int], float]) -> Iterator[None]:
        for number, age in enumerate(ages_ms):
            if not age:
                board.pass_ms(MINUTE_MS)
            sent.append(board.true_ms - age)
            core.intake.put(Arrival("wire", (("ph", value(number), sent[-1]),)))
            yield

    def story(core: Core) -> Iterator[None]:
        # A broker hands out a queue of eight hours, with pH falling in it as it never does in a second.
        yield from sender(core, [n * MINUTE_MS for n in range(400, 0, -1)], lambda n: 7.7 - n / 400)
        yield from sender(core, [0] * 15, lambda n: 6.7)
        assert bench.transitions() == []
        assert core.pipeline.watches["ph"].newest[2] == Flag.GOOD  # type: ignore[index]
        yield from sender(core, [0] * 40, falling)
        assert changes(bench.transitions(), "ph-low") == [(2, "raised")]
        yield from bench.become_known(core)

    bench.run(story)
    record = bench.record()[60:]
    assert [each.at for each in record] == sent
    assert {each.flag for each in record[1:]} == {Flag.GOOD}  # judged as what they are, now that their age is known
    assert [t.alarm for t in bench.transitions()] == ["clock-unset", "ph-low"]
