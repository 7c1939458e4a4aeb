"""Which letters are open, and in which order news reaches a person."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dawnline.delivery.worker import Trouble
from dawnline.duration import HOUR_MS
from dawnline.event import Delivered, Message
from dawnline.letter import Letter
from dawnline.service.post import Post, ended

RAISED = Message(
    "water/high/1/raised/1000/Ada", 1000, "Ada", ("console:",), "raised", "high", "pH is low", "pH 6.4", 1,
    "water/1/1000", True, (1,),
)  # fmt: skip
RETURNED = replace(RAISED, key="water/low/1/over/2000/Ada", at=2000, why="over", subject="pH is well again")


class Lane:
    """A worker that only remembers what it was given."""

    def __init__(self) -> None:
        self.letters: list[Letter] = []
        self.troubles: dict[str, Trouble] = {}
        self.now_s = 1000.0

    def submit(self, letter: Letter) -> None:
        self.letters.append(letter)

    def trouble(self, key: str) -> Trouble:
        return self.troubles.pop(key, Trouble())


def new(waiting: list[Letter] | None = None) -> tuple[Post, Lane]:
    lane = Lane()
    return Post(lane, waiting or [], now=lambda: lane.now_s), lane  # type: ignore[arg-type]


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
    assert send(post) == []  # one at a time
    post.outcome(Delivered(first.key, 3000, "retry", "no route"))
    lane.now_s += 10
    assert send(post) == [second.key]
    assert [letter.subject for letter in lane.letters] == ["pH is low", "pH is well again"]


def test_a_letter_that_fails_alone_is_tried_again_as_a_repeat() -> None:
    post, lane = new()
    (row,) = post.write([RAISED])
    send(post)
    post.outcome(Delivered(row.key, 3000, "retry", "no route"))
    assert post.as_json()["failing"] == {"Ada": "no route"}
    assert send(post) == []
    lane.now_s += 6
    send(post)
    assert [letter.is_repeat for letter in lane.letters] == [False, True]
    post.outcome(Delivered(row.key, 4000, "delivered"))
    assert (send(post), post.as_json()) == ([], {"open": 0, "dead_since_start": 0, "failing": {}, "given_up": []})


@pytest.mark.parametrize("outcome", ["retry", "delivered", "dead"])
def test_after_a_power_cut_an_attempt_without_outcome_is_made_once_more_before_newer_news(outcome: str) -> None:
    rows = [
        Letter("a", 1000, 1, "Ada", "console:", "high", "pH is low", "pH 6.4", attempts=1, state="trying"),
        Letter("b", 2000, 1, "Ada", "console:", "high", "pH is well again", "pH 6.7"),
    ]
    post, lane = new(rows)
    assert send(post) == ["a"]
    post.outcome(Delivered("a", 3000, outcome))  # type: ignore[arg-type]
    lane.now_s += 10
    assert send(post) == ["b"]
    assert [letter.is_repeat for letter in lane.letters] == [True, False]


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
    told = {"at": 3000, "person": "Ada", "priority": "high", "subject": "pH is low", "why": "no such address"}
    failing = {"Ada": "no such address"}
    assert post.as_json() == {"open": 0, "dead_since_start": 1, "failing": failing, "given_up": [told]}


def test_nothing_is_remembered_of_a_letter_that_was_given_up() -> None:
    post, lane = new()
    (row,) = post.write([RAISED])
    send(post)
    lane.troubles[row.key] = Trouble(asked_s=60.0)
    post.outcome(ended(lane.letters[0], "retry", "no answer", RAISED.at + 48 * HOUR_MS))
    assert post.dead == 1
    assert lane.troubles == {}


def test_two_people_at_one_address_both_hear() -> None:
    post, lane = new()
    rows = post.write([RAISED, replace(RAISED, key="water/high/1/raised/1000/Bo", person="Bo")])
    for row in rows:
        send(post)
        post.outcome(Delivered(row.key, 3000, "delivered"))
    assert [letter.person for letter in lane.letters] == ["Ada", "Bo"]


OTHERS = [
    replace(RAISED, key=f"watch/{priority}/{n}/raised/{n}/Ada", at=n, priority=priority, incident=n, subject=str(n))
    for n, priority in ((11, "low"), (12, "medium"), (13, "high"), (14, "low"))
]


def test_after_an_outage_the_urgent_come_first_and_the_rest_in_their_order() -> None:
    post, lane = new()
    rows = post.write(OTHERS)
    assert send(post) == [rows[2].key]
    post.outcome(Delivered(rows[2].key, 3000, "retry", "no route"))
    assert send(post) == []  # the address is away: nothing else is tried
    lane.now_s += 6
    for _ in rows:
        (key,) = send(post)
        post.outcome(Delivered(key, 3000, "delivered"))
    assert [letter.subject for letter in lane.letters] == ["13", "13", "11", "12", "14"]


def test_a_letter_refused_alone_holds_up_no_other() -> None:
    post, lane = new()
    rows = post.write(OTHERS[:2])
    lane.troubles[rows[0].key] = Trouble(letter_only=True)
    assert send(post) == [rows[0].key]
    post.outcome(Delivered(rows[0].key, 3000, "retry", "451 not this one"))
    assert send(post) == [rows[1].key]
    post.outcome(Delivered(rows[1].key, 3000, "delivered"))
    lane.now_s += 6
    assert send(post) == [rows[0].key]


def test_something_urgent_tries_an_address_that_was_away() -> None:
    post, lane = new()
    (low,) = post.write(OTHERS[:1])
    for _ in range(12):
        send(post)
        post.outcome(Delivered(low.key, 3000, "retry", "no route"))
        lane.now_s += 2000
    send(post)
    post.outcome(Delivered(low.key, 3000, "retry", "no route"))
    assert send(post) == []
    (high,) = post.write([OTHERS[2]])
    assert send(post) == [high.key]
    post.outcome(Delivered(high.key, 3000, "retry", "no route"))
    lane.now_s += 331  # five minutes and a tenth at most, where something urgent waits
    assert send(post) == [high.key]


@pytest.mark.parametrize(("priority", "hours"), [("low", 24), ("medium", 24), ("high", 48)])
def test_old_news_is_given_up(priority: str, hours: int) -> None:
    letter = Letter("k", 0, 1, "Ada", "console:", priority, "pH", "6.4")  # type: ignore[arg-type]
    just_in_time = ended(letter, "retry", "no route", hours * 3_600_000 - 1)
    too_old = ended(letter, "retry", "no route", hours * 3_600_000)
    assert (just_in_time.outcome, too_old.outcome) == ("retry", "dead")
    assert "no route" in too_old.text
    assert ended(letter, "delivered", "taken", 1 << 50).outcome == "delivered"


def test_a_report_being_drawn_holds_up_no_other_letter() -> None:
    post, lane = new()
    week = replace(RAISED, key="weekly/low/0/weekly/500/Ada", why="weekly", priority="low", incident=-500,
                   thread="week/2026-06-01/2026-06-07")  # fmt: skip
    (report,) = post.write([week])
    assert send(post) == [report.key]
    (alarm,) = post.write([RAISED])
    assert send(post) == [alarm.key]
    assert lane.letters[0].week is not None
    assert lane.letters[1].week is None


def test_a_report_is_tried_for_a_week_and_other_news_for_a_day() -> None:
    post, lane = new()
    week = replace(RAISED, why="weekly", priority="low", thread="week/2026-06-01/2026-06-07")
    post.write([week, replace(RAISED, key="other", priority="low", incident=2)])
    assert len(send(post)) == 2
    for letter in lane.letters:
        late = ended(letter, "retry", "no route", letter.at + 5 * 86_400_000)
        assert late.outcome == ("retry" if letter.week else "dead")
        assert ended(letter, "retry", "no route", letter.at + 7 * 86_400_000).outcome == "dead"
