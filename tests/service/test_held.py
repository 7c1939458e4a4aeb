"""Memory that fills while the card takes nothing: what goes, and that the newest state of each incident stays."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dawnline.event import Delivered, Forecast, Moved
from dawnline.letter import Letter
from dawnline.service import held
from dawnline.service.held import Held
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

STATES = ("waiting", "trying", "delivered", "superseded", "dead")


def letter(number: int, episode: int) -> Letter:
    return Letter(f"k{number}", number, episode, "Ada", "console:", "high", f"news {number}", "pH is low " * 100)


def stored(path: Path, batches: list[Batch]) -> dict[str, Letter]:
    with Store.open(path, [("ph", "ph")]) as store:
        store.commit(*batches)
    with Reader.open(path) as reader:
        return {row.key: row for row in reader.letters(*STATES, limit=100_000)}


def test_letters_of_months_are_bounded_and_each_incident_keeps_its_newest(tmp_path: Path) -> None:
    memory, written = Held(), 0
    for number in range(20_000):
        episode = number // 50
        key = f"k{number}"
        memory.add(Batch(letters=[letter(number, episode)], attempts=[key]))
        memory.add(Batch(outcomes=[Delivered(key, number, "delivered")]))
        written += 1
    assert sum(memory.count[name] for name in ("letters", "attempts", "outcomes")) <= held.MOST_POST
    assert len(memory.batches) <= held.MOST_POST
    rows = stored(tmp_path / "pond.db", memory.batches)
    assert memory.gap
    assert memory.gone["letters"] == written - len(rows)
    newest = {f"k{episode * 50 + 49}" for episode in range(400)}
    assert newest <= rows.keys()
    assert {row.state for row in rows.values()} == {"delivered"}


def test_letters_that_cannot_be_delivered_stay_and_their_attempts_do_not_pile_up(tmp_path: Path) -> None:
    memory = Held()
    for number in range(10):
        memory.add(Batch(letters=[letter(number, number)]))
    for at in range(10_000):
        key = f"k{at % 10}"
        memory.add(Batch(attempts=[key]))
        memory.add(Batch(outcomes=[Delivered(key, at, "retry", "no route")]))
    assert sum(memory.count[name] for name in ("attempts", "outcomes")) <= held.MOST_POST
    rows = stored(tmp_path / "pond.db", memory.batches)
    assert sorted(rows) == [f"k{number}" for number in range(10)]
    assert all(row.state == "waiting" and row.attempts for row in rows.values())
    assert not memory.gone["letters"]


STEPS = st.lists(st.tuples(st.sampled_from(["letter", "begin", "delivered", "retry", "dead"]), st.integers(0, 3)))


@given(STEPS, st.integers(2, 12))
@settings(max_examples=60, suppress_health_check=list(HealthCheck))
def test_what_stays_ends_as_it_would_have_ended(steps: list[tuple[str, int]], most: int) -> None:
    """Four incidents whose letters come, are tried and end; stored whole, and as memory keeps them. What has ended is
    not tried again.
    """
    whole, memory = list[Batch](), Held()
    newest: dict[int, int] = {}
    flying, ended = set[str](), set[str]()
    with pytest.MonkeyPatch.context() as patch, TemporaryDirectory() as folder:
        patch.setattr(held, "MOST_POST", most)
        for number, (what, episode) in enumerate([("letter", 0), *steps]):
            key = f"k{newest.get(episode, -1)}"
            if what == "letter":
                newest[episode] = number
                batch = Batch(letters=[letter(number, episode)], in_flight=tuple(flying))
            elif episode not in newest or key in ended:
                continue
            elif what == "begin":
                flying.add(key)
                batch = Batch(attempts=[key])
            else:
                flying.discard(key)
                if what != "retry":
                    ended.add(key)
                batch = Batch(outcomes=[Delivered(key, number, what)])  # type: ignore[arg-type]
            whole.append(batch)
            memory.add(batch)
        expected = stored(Path(folder) / "whole.db", whole)
        kept = stored(Path(folder) / "kept.db", memory.batches)
    for key, row in kept.items():
        assert (row.state, bool(row.attempts)) == (expected[key].state, bool(expected[key].attempts)), key
    lost = expected.keys() - kept.keys()
    assert len(lost) == memory.gone["letters"]
    for key in lost:
        assert expected[key].state != "waiting", key
    for episode, number in newest.items():
        if expected[f"k{number}"].state in ("waiting", "trying"):
            assert f"k{number}" in kept, episode


def test_other_rows_are_bounded_too_the_oldest_go_first() -> None:
    memory = Held()
    for at in range(held.MOST["forecasts"] + 100):
        move = Moved(at, "ph-low", "ph", 1, "occur", "normal", "unacknowledged", "high")
        memory.add(replace(Batch(forecasts=[Forecast("tonight", at, {})]), moves=[move]))
    (batch,) = memory.batches
    assert [each.at for each in batch.forecasts][:2] == [100, 101]
    assert len(batch.forecasts) == held.MOST["forecasts"]
    assert len(batch.moves) == held.MOST["forecasts"] + 100
    assert memory.gone == {"forecasts": 100}
    memory.clear()
    assert (memory.gap, memory.count, memory.gone["forecasts"]) == (False, {}, 100)
