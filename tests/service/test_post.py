"""Which letters are open, and in which order news reaches a person."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dawnline.delivery.letter import Letter
from dawnline.event import Delivered, Message
from dawnline.service.post import Post
from dawnline.store.outbox import OutboxRow

RAISED = Message(
    "water/high/1/raised/1000/Ada", 1000, "Ada", ("console:",), "raised", "high", "pH is low", "pH 6.4", 1,
    "water/1/1000", True, (1,),
)  # fmt: skip
RETURNED = replace(RAISED, key="water/low/1/over/2000/Ada", at=2000, why="over", subject="pH is well again")


class Lane:
    """A worker that only remembers what it was given."""

    def __init__(self) -> None:
        self.letters: list[Letter] = []

    def submit(self, letter: Letter) -> None:
        self.letters.append(letter)

    def next_delay(self, attempts: int, key: str = "") -> float:
        return 0.0


def new(waiting: list[OutboxRow] | None = None) -> tuple[Post, Lane]:
    lane = Lane()
    return Post(lane, waiting or []), lane  # type: ignore[arg-type]


def send(post: Post) -> list[str]:
    tried = post.due()
    post.send(tried, frozenset(tried))
    return tried


def test_newer_news_takes_the_place_of_what_waits() -> None:
    post, lane = new()
    post.write([RAISED])
    post.write([RETURNED])
    send(post)
    assert [letter.subject for letter in lane.letters] == ["pH is well again"]


def test_older_news_in_flight_that_fails_does_not_come_after_newer_news() -> None:
    post, lane = new()
    (first,) = post.write([RAISED])
    send(post)
    (second,) = post.write([RETURNED])
    send(post)
    post.outcome(Delivered(second.key, 3000, "delivered"))
    post.outcome(Delivered(first.key, 3000, "retry", "no route"))
    assert send(post) == []
    assert [letter.subject for letter in lane.letters] == ["pH is low", "pH is well again"]


def test_a_letter_that_fails_alone_is_tried_again_as_a_repeat() -> None:
    post, lane = new()
    (row,) = post.write([RAISED])
    send(post)
    post.outcome(Delivered(row.key, 3000, "retry", "no route"))
    assert post.as_json()["failing"] == {"Ada": "no route"}
    send(post)
    assert [letter.is_repeat for letter in lane.letters] == [False, True]
    post.outcome(Delivered(row.key, 4000, "delivered"))
    assert (send(post), post.as_json()) == ([], {"open": 0, "dead_since_start": 0, "failing": {}})


@pytest.mark.parametrize("outcome", ["retry", "delivered", "dead"])
def test_after_a_power_cut_an_attempt_without_outcome_is_made_once_more_before_newer_news(outcome: str) -> None:
    rows = [
        OutboxRow("a", 1000, 1, "Ada", "console:", "high", "pH is low", "pH 6.4", attempts=1, state="trying"),
        OutboxRow("b", 2000, 1, "Ada", "console:", "high", "pH is well again", "pH 6.7"),
    ]
    post, lane = new(rows)
    assert send(post) == ["a", "b"]
    assert [letter.is_repeat for letter in lane.letters] == [True, False]
    post.outcome(Delivered("a", 3000, outcome))  # type: ignore[arg-type]
    assert send(post) == []


def test_what_the_store_superseded_is_not_sent() -> None:
    post, lane = new()
    post.write([RAISED])
    post.send(post.due(), frozenset())
    assert (lane.letters, post.due()) == ([], [])


def test_a_letter_given_up_is_counted() -> None:
    post, _ = new()
    (row,) = post.write([RAISED])
    send(post)
    post.outcome(Delivered(row.key, 3000, "dead", "no such address"))
    assert post.as_json() == {"open": 0, "dead_since_start": 1, "failing": {"Ada": "no such address"}}


def test_two_people_at_one_address_both_hear() -> None:
    post, lane = new()
    post.write([RAISED, replace(RAISED, key="water/high/1/raised/1000/Bo", person="Bo")])
    send(post)
    assert [letter.person for letter in lane.letters] == ["Ada", "Bo"]
