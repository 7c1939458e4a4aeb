from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dawnline.event import Delivered
from dawnline.letter import Letter
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

FIRST = Letter(
    "k1",
    1000,
    7,
    "ada",
    "mailto:ada@example.org",
    "medium",
    "pH",
    "falling",
    thread="water/7/1",
    opens=False,
    asks=(7, 8),
)
SECOND = replace(FIRST, key="k2", at=2000, text="still falling")


def states(path: Path) -> dict[str, int]:
    with Reader.open(path) as reader:
        return reader.outbox()


def test_a_letter_comes_back_as_it_was_put_in_and_only_once(store: Store) -> None:
    store.commit(Batch(letters=[FIRST]))
    store.commit(Batch(letters=[replace(FIRST, text="another text under the same key")]))
    assert store.waiting() == [FIRST]


def test_a_newer_letter_of_the_episode_supersedes_one_that_waits(store: Store, path: Path) -> None:
    others = [
        replace(FIRST, key="k8", episode=8),
        replace(FIRST, key="k9", address="console:"),
        replace(FIRST, key="k10", person="bo"),
    ]
    store.commit(Batch(letters=[FIRST, *others]))
    store.commit(Batch(letters=[SECOND]))
    assert store.waiting() == [*others, SECOND]
    assert states(path) == {"waiting": 4, "superseded": 1}


def test_one_in_flight_is_not_superseded(store: Store) -> None:
    store.commit(Batch(letters=[FIRST], attempts=["k1"]))
    store.commit(Batch(letters=[SECOND], in_flight={"k1"}))
    assert [(row.key, row.state) for row in store.waiting()] == [("k1", "trying"), ("k2", "waiting")]


def test_one_tried_in_vain_is_superseded(store: Store) -> None:
    store.commit(Batch(letters=[FIRST], attempts=["k1"]))
    store.commit(Batch(outcomes=[Delivered("k1", 1500, "retry", "no route")], letters=[SECOND]))
    assert [row.key for row in store.waiting()] == ["k2"]


def test_one_in_flight_that_fails_is_not_tried_again_behind_newer_news(store: Store, path: Path) -> None:
    others = [
        replace(FIRST, key="k8", episode=8),
        replace(FIRST, key="k9", address="console:"),
        replace(FIRST, key="k10", person="bo"),
    ]
    store.commit(Batch(letters=[FIRST, *others], attempts=["k1", "k8", "k9"]))
    store.commit(Batch(letters=[SECOND], in_flight={"k1"}, attempts=["k2"]))
    store.commit(Batch(outcomes=[Delivered(key, 1500, "retry", "no route") for key in ("k1", "k8", "k9", "k2")]))
    assert [row.key for row in store.waiting()] == ["k8", "k9", "k10", "k2"]
    assert states(path) == {"waiting": 4, "superseded": 1}


def test_the_same_letter_again_supersedes_nothing(store: Store) -> None:
    store.commit(Batch(letters=[FIRST]))
    store.commit(Batch(letters=[SECOND]))
    store.commit(Batch(letters=[FIRST]))
    assert [row.key for row in store.waiting()] == ["k2"]


def test_an_attempt_is_begun_only_on_an_open_letter(store: Store) -> None:
    store.commit(Batch(letters=[FIRST]))
    begun = store.commit(Batch(letters=[SECOND], attempts=["k1", "k2", "unknown"]))
    assert begun == {"k2"}
    assert [(row.key, row.attempts) for row in store.waiting()] == [("k2", 1)]


def test_an_attempt_without_an_outcome_is_there_at_the_next_start(store: Store, path: Path) -> None:
    store.commit(Batch(letters=[FIRST], attempts=["k1"]))
    store.close()
    with Store.open(path, []) as again:
        assert again.waiting() == [replace(FIRST, attempts=1, state="trying")]
        assert again.commit(Batch(attempts=["k1"])) == {"k1"}
        assert again.waiting()[0].attempts == 2


@pytest.mark.parametrize(("outcome", "state"), [("delivered", "delivered"), ("dead", "dead"), ("retry", "waiting")])
def test_how_an_attempt_ended(store: Store, path: Path, outcome: str, state: str) -> None:
    store.commit(Batch(letters=[FIRST], attempts=["k1"]))
    store.commit(Batch(outcomes=[Delivered("k1", 1500, outcome, "said the server")]))  # type: ignore[arg-type]
    assert states(path) == {state: 1}
    assert [row.state for row in store.waiting()] == (["waiting"] if outcome == "retry" else [])


def test_an_ended_letter_stays_ended_but_one_that_arrived_did_arrive(store: Store, path: Path) -> None:
    store.commit(Batch(letters=[FIRST], attempts=["k1"]))
    store.commit(Batch(letters=[SECOND]))  # supersedes k1
    store.commit(Batch(outcomes=[Delivered("k1", 1500, "retry"), Delivered("k1", 1501, "dead")]))
    assert states(path) == {"superseded": 1, "waiting": 1}
    store.commit(Batch(outcomes=[Delivered("k1", 1502, "delivered"), Delivered("k1", 1503, "retry")]))
    assert states(path) == {"delivered": 1, "waiting": 1}


def test_the_newest_letters_of_some_states(store: Store, path: Path) -> None:
    rows = [replace(FIRST, key=f"k{n}", episode=n) for n in range(5)]
    store.commit(Batch(letters=rows))
    store.commit(Batch(outcomes=[Delivered("k1", 2000, "dead"), Delivered("k3", 2000, "dead")]))
    with Reader.open(path) as reader:
        assert [row.key for row in reader.letters("dead")] == ["k1", "k3"]
        assert [row.key for row in reader.letters("waiting", limit=2)] == ["k2", "k4"]
        assert reader.letters("waiting", limit=1) == [rows[4]]


def test_what_was_given_up_is_named_with_the_reason(store: Store, path: Path) -> None:
    rows = [replace(FIRST, key=f"k{n}", episode=n) for n in range(4)]
    store.commit(Batch(letters=rows))
    ends = [Delivered("k0", 1000, "dead", "long ago"), Delivered("k1", 2000, "retry", "no route"),
            Delivered("k1", 3000, "dead", "550 nobody"), Delivered("k2", 3000, "delivered")]  # fmt: skip
    store.commit(Batch(outcomes=ends))
    with Reader.open(path) as reader:
        assert reader.given_up(1500, 5) == [(3000, "ada", "medium", "pH", "550 nobody")]
        assert [each.why for each in reader.given_up(0, 1)] == ["550 nobody"]
