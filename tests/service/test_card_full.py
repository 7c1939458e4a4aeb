"""A card that takes nothing: full, read-only, with errors, or with a damaged file on it, at every statement."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from dawnline.event import Act, Transition
from dawnline.probes.intake import Arrival
from dawnline.service import held
from dawnline.service.core import Core
from dawnline.service.keeping import State
from dawnline.service.resume import resume
from dawnline.store.inbox import Inbox, inbox_path
from dawnline.store.reader import Reader
from dawnline.store.store import Store
from dawnline.store.upkeep import damaged

from .refusing_card import BROKEN, FULL, READ_ONLY, Bench, Card, told
from .wire import PowerCutError


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path, monkeypatch)


def essence(found: list[Transition]) -> list[tuple[Any, ...]]:
    return [(each.at, each.alarm, each.change, each.priority) for each in found]


def whole_story(folder: Path, monkeypatch: pytest.MonkeyPatch, **card: int) -> Bench:
    folder.mkdir()
    bench = Bench(folder, monkeypatch)
    bench.card = Card(**card)
    bench.run(bench.night)
    return bench


@pytest.mark.parametrize(("code", "places"), [(FULL, 24), (BROKEN, 8), (READ_ONLY, 8)])
@pytest.mark.parametrize("refusals", [1, 40])
def test_whatever_the_card_refuses_nothing_is_lost_or_doubled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, places: int, refusals: int
) -> None:
    well = whole_story(tmp_path / "well", monkeypatch)
    assert [each.change for each in well.transitions()] == ["raised", "returned"]
    opened, last = 40, well.card.statements // 2  # the last commit is another test's
    for since in range(opened, last, max(1, (last - opened) // places)):
        ill = whole_story(tmp_path / f"{since}", monkeypatch, since=since, refusals=refusals, code=code)
        assert ill.card.refusals == 0
        assert ill.record() == well.record()
        assert essence(ill.transitions()) == essence(well.transitions())
        assert told(ill) == told(well)
        assert not [key for key in ill.open_letters() if key.startswith("water/")]
        assert sorted(ill.wire.acknowledged) == list(range(len(ill.measured)))


def test_nothing_is_acknowledged_before_it_is_on_the_card(bench: Bench) -> None:
    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 10)
        bench.card.since, bench.card.refusals = 0, 1 << 30
        before = list(bench.wire.acknowledged)
        yield from bench.measure(core, 60, 7.0, 0.02)
        assert bench.wire.acknowledged == before
        said = [
            (letter.priority, letter.subject.rpartition(": ")[2].partition(" (")[0]) for letter in bench.lane.letters
        ]
        assert said == [("high", "Nothing is written down")] * 3 + [("high", "pH is low")] * 2  # with the reminders
        assert core.keeping.state()[0] is State.HOLDING
        raise PowerCutError

    with pytest.raises(PowerCutError):
        bench.run(story)
    bench.card.refusals = 0
    assert len(bench.record()) >= len(bench.wire.acknowledged)
    with Store.open(bench.path, [("ph", "ph")]) as store:
        assert resume(bench.settings, store).desk.active() == []  # it goes on from what is on the card


def test_the_alarm_comes_and_goes_and_a_replay_of_the_record_has_it(bench: Bench) -> None:
    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 10)
        bench.card.since, bench.card.refusals = 0, 1 << 30
        yield from bench.measure(core, 30)
        bench.card.refusals = 0
        yield from bench.measure(core, 20)

    core = bench.run(story)
    assert [(each.change, each.priority) for each in bench.transitions(of_the_store=True)] == [
        ("raised", "high"), ("returned", "high"),
    ]  # fmt: skip
    assert "the disk is full" in bench.transitions(of_the_store=True)[0].text
    with Store.open(bench.path, [("ph", "ph")]) as store:
        store._db.execute("DELETE FROM checkpoint")
        again = resume(bench.settings, store)
    assert again.desk.save() == core.pipeline.desk.save()


def test_memory_is_bounded_the_oldest_go_and_a_restart_goes_on_as_it_was(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(held.MOST, "readings", 40)

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 10)
        bench.card.since, bench.card.refusals = 0, 1 << 30
        yield from bench.measure(core, 35)
        assert core.keeping.state()[0] is State.FILLING
        yield from bench.measure(core, 30)
        assert core.keeping.state()[0] is State.LOSING
        assert core.keeping.held.count["readings"] == 40
        bench.card.refusals = 0
        yield from bench.measure(core, 5)

    core = bench.run(story)
    lost = core.keeping.held.gone["readings"]
    assert lost >= 15
    values = [each.value for each in bench.record()]
    assert len(values) == len(bench.measured) - lost
    first = len([value for value, true in zip(values, bench.measured, strict=False) if value == true])
    assert values == bench.measured[:first] + bench.measured[first + lost :]
    assert [(each.change, each.priority) for each in bench.transitions(of_the_store=True)] == [("raised", "high")]
    with Store.open(bench.path, [("ph", "ph")]) as store:
        assert resume(bench.settings, store).save() == core.pipeline.save()


def test_a_file_damaged_while_it_is_written_to_is_set_aside(bench: Bench) -> None:
    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 20)
        yield from bench.measure(core, 40, 7.0, 0.02)
        before = len(bench.measured)
        bench.card.code, bench.card.since, bench.card.refusals = sqlite3.SQLITE_CORRUPT, 0, 1
        yield from bench.measure(core, 40)
        assert len(damaged(bench.path)) == 1
        assert before > 0

    core = bench.run(story)
    (aside,) = damaged(bench.path)
    together = bench.record(aside) + bench.record()
    assert [each.value for each in together] == bench.measured
    assert sorted(bench.wire.acknowledged) == list(range(len(bench.measured)))
    assert [each.change for each in bench.transitions(of_the_store=True)] == ["raised"]
    assert aside.name in bench.transitions(of_the_store=True)[0].text
    assert len({letter.key for letter in bench.lane.letters}) == len(bench.lane.letters)
    assert bench.open_letters() == []
    with Store.open(bench.path, [("ph", "ph")]) as store:
        assert resume(bench.settings, store).save() == core.pipeline.save()


def test_a_letter_that_waits_is_in_the_new_file(bench: Bench) -> None:
    bench.lane.submit = bench.lane.letters.append  # type: ignore[method-assign]  # an attempt that does not end

    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 20)
        yield from bench.measure(core, 40, 7.0, 0.02)
        assert len(bench.lane.letters) == 1
        bench.card.code, bench.card.since, bench.card.refusals = sqlite3.SQLITE_NOTADB, 0, 1
        yield from bench.measure(core, 3, 6.2)

    bench.run(story)
    with Reader.open(bench.path) as reader:
        assert [(row.key, row.state, row.attempts) for row in reader.letters("waiting", "trying")][:1] == [
            (bench.lane.letters[0].key, "trying", 1)
        ]


def test_a_card_that_damages_each_file_is_not_filled_with_them(bench: Bench) -> None:
    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 5)
        bench.card.code, bench.card.since, bench.card.refusals = sqlite3.SQLITE_CORRUPT, 0, 30
        yield from bench.measure(core, 40)

    bench.run(story)
    assert len(damaged(bench.path)) == 1
    assert [each.value for each in bench.record(damaged(bench.path)[0]) + bench.record()] == bench.measured


def test_an_act_is_answered_when_it_is_on_the_card(bench: Bench) -> None:
    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 5)
        with Inbox.open(inbox_path(bench.path)) as inbox:
            bench.card.since, bench.card.refusals = 0, 1 << 30
            act = inbox.submit("note", {"note": "herons"}, "ada")
            yield from bench.measure(core, 5)
            assert inbox.verdict(act) is None
            bench.card.refusals = 0
            yield from bench.measure(core, 5)
            assert inbox.verdict(act) is not None
        with Reader.open(bench.path) as reader:
            assert reader.act_verdict(act) is not None

    bench.run(story)


def test_the_last_commit_is_tried_and_its_failure_said(bench: Bench) -> None:
    def story(core: Core) -> Iterator[None]:
        yield from bench.measure(core, 5)
        bench.card.since, bench.card.refusals = 0, 1 << 30
        yield from bench.measure(core, 5)

    with pytest.raises(
        Exception, match=r"the disk is full.*[3-6] readings that it did not take are lost with this end"
    ):
        bench.run(story)
    assert 5 <= len(bench.record()) <= 7


def test_what_no_store_can_hold_holds_nothing_else_up(bench: Bench) -> None:
    """By ways that have no door: acts with half a character in them, a reading of a time beyond 64 bits."""
    answers: list[tuple[str, bool, str]] = []

    def story(core: Core) -> Iterator[None]:
        core.asked.also_told = lambda act_id, accepted, text: answers.append((act_id, accepted, text))
        yield from bench.measure(core, 20)
        core.intake.put_other(lambda stamp: Act("odd", stamp, "no\ud800te", {}, "ada"))
        core.intake.put_other(lambda stamp: Act("good", stamp, "note", {"note": "herons"}, "ada"))
        core.intake.put_other(lambda stamp: Act("whose", stamp, "note", {"note": "x"}, "a\udcffa"))
        core.intake.put(Arrival("wire", (("ph", 7.0, 1 << 70),)))
        yield from bench.measure(core, 40, 7.0, 0.02)
        yield from bench.measure(core, 10, 6.2)
        assert core.keeping.state()[0] is State.WELL
        assert core.keeping.as_json()["unfit"] == 3

    bench.run(story)
    assert [each.value for each in bench.record()] == bench.measured
    assert [subject.partition(": ")[2].partition(" (")[0] for _, subject in told(bench)][:1] == ["pH is low"]
    assert [(act, accepted) for act, accepted, _ in answers] == [("odd", False), ("good", True), ("whose", False)]
    assert "the record cannot hold it" in answers[2][2]
    with Reader.open(bench.path) as reader:
        assert [row.act.id for row in reader.acts(0, 1 << 60)] == ["good"]
