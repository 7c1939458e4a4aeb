from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from dawnline.delivery import worker as worker_module
from dawnline.delivery.later import LaterError
from dawnline.delivery.worker import LANES, Outcome, Trouble, Worker
from dawnline.errors import DeliveryError
from dawnline.letter import Letter

PATIENCE_S = 20.0


class Outcomes:
    """Collects reports; `wait(n)` until there are n."""

    def __init__(self) -> None:
        self.changed = threading.Condition()
        self.all: list[tuple[str, Outcome, str]] = []

    def __call__(self, letter: Letter, outcome: Outcome, text: str) -> None:
        with self.changed:
            self.all.append((letter.key, outcome, text))
            self.changed.notify_all()

    def wait(self, count: int) -> list[tuple[str, Outcome, str]]:
        with self.changed:
            assert self.changed.wait_for(lambda: len(self.all) >= count, PATIENCE_S), self.all
            return list(self.all)


@pytest.fixture
def outcomes() -> Outcomes:
    return Outcomes()


Make = Callable[..., Worker]


@pytest.fixture
def make(outcomes: Outcomes) -> Iterator[Make]:
    """make(send, whole_s=...) -> a worker that is stopped after the test."""
    made: list[Worker] = []

    def build(send: Callable[[Letter], str], **options: float) -> Worker:
        made.append(Worker(send, outcomes, **options))
        return made[-1]

    yield build
    stopped = [each.stop(PATIENCE_S) for each in made]
    assert all(stopped)


@pytest.fixture
def to(letter: Letter) -> Callable[..., Letter]:
    """to(address, key) -> a letter."""
    return lambda address, key="k": replace(letter, address=address, key=key)


def raising(error: Exception) -> Callable[[Letter], str]:
    def send(_: Letter) -> str:
        raise error

    return send


@pytest.mark.parametrize(
    ("send", "outcome", "text"),
    [
        (lambda _: "taken", "delivered", "taken"),
        (raising(DeliveryError("not now", retry=True)), "retry", "not now"),
        (raising(DeliveryError("never", retry=False)), "dead", "never"),
        (raising(LaterError("wait")), "retry", "wait"),
        (raising(DeliveryError("caf\udce9", retry=True)), "retry", "caf\\udce9"),
        (raising(ZeroDivisionError("secret detail")), "retry", "internal fault (ZeroDivisionError)"),
    ],
)
def test_each_ending_is_reported(
    send: Callable[[Letter], str],
    outcome: Outcome,
    text: str,
    make: Make,
    outcomes: Outcomes,
    to: Callable[..., Letter],
) -> None:
    make(send).submit(to("a", "k1"))
    assert outcomes.wait(1) == [("k1", outcome, text)]


def test_one_address_keeps_its_order_on_one_thread(make: Make, outcomes: Outcomes, to: Callable[..., Letter]) -> None:
    threads = set()

    def send(_: Letter) -> str:
        threads.add(threading.get_ident())
        return ""

    worker = make(send)
    for n in range(20):
        worker.submit(to("a", str(n)))
    assert [key for key, _, _ in outcomes.wait(20)] == [str(n) for n in range(20)]
    assert len(threads) == 1


def test_an_address_that_hangs_holds_back_no_other(make: Make, outcomes: Outcomes, to: Callable[..., Letter]) -> None:
    let_go = threading.Event()
    worker = make(lambda each: str(let_go.wait(PATIENCE_S)) if each.address == "hangs" else "taken")
    worker.submit(to("hangs", "h"))
    for n in range(5):
        worker.submit(to(f"well {n}", str(n)))
    assert {key for key, _, _ in outcomes.wait(5)} == {"0", "1", "2", "3", "4"}
    let_go.set()
    outcomes.wait(6)


def test_an_attempt_that_takes_too_long_is_given_up_once(
    make: Make, outcomes: Outcomes, to: Callable[..., Letter]
) -> None:
    let_go = threading.Event()
    worker = make(lambda each: str(each.key != "h1" or let_go.wait(PATIENCE_S)), whole_s=0.1)
    worker.submit(to("a", "h1"))
    worker.submit(to("a", "h2"))
    late = [("h1", "retry", "no answer within 0.1 s"), ("h2", "retry", "no answer within 0.1 s")]
    assert outcomes.wait(2) == late
    worker.submit(to("a", "h3"))  # the thread is still in there
    assert outcomes.wait(3)[2] == ("h3", "retry", "an earlier attempt at this address still hangs")
    let_go.set()
    accepted = False
    for n in range(1000):  # the lane opens again as soon as the thread comes back
        worker.submit(to("a", f"n{n}"))
        accepted = outcomes.wait(4 + n)[3 + n][1] == "delivered"
        if accepted:
            break
        threading.Event().wait(0.01)
    assert accepted
    assert [key for key, _, _ in outcomes.all].count("h1") == 1


def test_a_time_out_that_comes_after_the_end_says_nothing(
    make: Make, outcomes: Outcomes, to: Callable[..., Letter], monkeypatch: pytest.MonkeyPatch
) -> None:
    timers: list[threading.Timer] = []

    def too_late(timer: threading.Timer) -> None:
        timers.append(timer)

    monkeypatch.setattr(threading.Timer, "cancel", too_late)
    worker = make(lambda _: "taken", whole_s=0.05)
    worker.submit(to("a", "1"))
    outcomes.wait(1)
    timers[0].join(PATIENCE_S)
    worker.submit(to("a", "2"))
    assert [(key, outcome) for key, outcome, _ in outcomes.wait(2)] == [
        ("1", "delivered"),
        ("2", "delivered"),
    ]


def test_more_addresses_than_lanes(make: Make, outcomes: Outcomes, to: Callable[..., Letter]) -> None:
    let_go = threading.Event()
    worker = make(lambda _: str(let_go.wait(PATIENCE_S)))
    for n in range(LANES):
        worker.submit(to(f"a{n}", str(n)))
    worker.submit(to("one too many", "x"))
    assert outcomes.wait(1) == [("x", "retry", "all 16 lanes are busy")]
    let_go.set()
    outcomes.wait(LANES + 1)


def test_an_idle_lane_makes_room(make: Make, outcomes: Outcomes, to: Callable[..., Letter]) -> None:
    worker = make(lambda _: "taken")
    for n in range(3 * LANES):
        worker.submit(to(f"a{n}", str(n)))
        outcomes.wait(n + 1)
    assert {outcome for _, outcome, _ in outcomes.all} == {"delivered"}
    assert len([t for t in threading.enumerate() if t.name == "delivery"]) <= LANES + 1


def test_an_idle_lane_ends(
    make: Make, outcomes: Outcomes, to: Callable[..., Letter], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker_module, "IDLE_S", 0.05)
    threads: list[threading.Thread] = []

    def send(_: Letter) -> str:
        threads.append(threading.current_thread())
        return ""

    worker = make(send)
    worker.submit(to("a", "1"))
    outcomes.wait(1)
    threads[0].join(PATIENCE_S)
    assert not threads[0].is_alive()
    worker.submit(to("a", "2"))
    assert outcomes.wait(2)[1][:2] == ("2", "delivered")


def test_a_full_lane_refuses(
    make: Make, outcomes: Outcomes, to: Callable[..., Letter], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker_module, "WAITING", 2)
    let_go, inside = threading.Event(), threading.Event()

    def send(_: Letter) -> str:
        inside.set()
        return str(let_go.wait(PATIENCE_S))

    worker = make(send)
    worker.submit(to("a", "sending"))
    assert inside.wait(PATIENCE_S)
    for key in ("1", "2", "3"):
        worker.submit(to("a", key))
    assert outcomes.wait(1) == [("3", "retry", "2 letters already wait for this address")]
    let_go.set()
    outcomes.wait(4)


def test_stop_finishes_the_letter_at_hand_and_sends_no_other(
    make: Make, outcomes: Outcomes, to: Callable[..., Letter]
) -> None:
    let_go, inside = threading.Event(), threading.Event()

    def send(_: Letter) -> str:
        inside.set()
        return str(let_go.wait(PATIENCE_S))

    worker = make(send)
    worker.submit(to("a", "at hand"))
    worker.submit(to("a", "waiting"))
    assert inside.wait(PATIENCE_S)
    assert not worker.stop(0.05)
    let_go.set()
    assert worker.stop(PATIENCE_S)
    worker.submit(to("a", "after"))
    assert {key for key, _, _ in outcomes.wait(2)} == {"at hand", "after"}


def test_a_report_that_crashes_ends_no_lane(letter: Letter) -> None:
    told: list[str] = []
    done = threading.Event()

    def report(each: Letter, _outcome: Outcome, _text: str) -> None:
        told.append(each.key)
        if each.key == "1":
            raise ZeroDivisionError
        done.set()

    worker = Worker(lambda _: "", report)
    for key in ("1", "2"):
        worker.submit(replace(letter, key=key))
    assert done.wait(PATIENCE_S)
    assert told == ["1", "2"]
    assert worker.stop(PATIENCE_S)


def test_a_system_without_threads_is_a_retry(
    make: Make, outcomes: Outcomes, to: Callable[..., Letter], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    worker = make(lambda _: "taken")
    with monkeypatch.context() as patch:
        patch.setattr(threading.Thread, "start", refuse)
        worker.submit(to("a", "1"))
    assert outcomes.wait(1) == [("1", "retry", "can't start new thread")]
    worker.submit(to("a", "2"))
    assert outcomes.wait(2)[1][:2] == ("2", "delivered")


def test_the_wait_asked_for_is_kept_for_one_question(make: Make, outcomes: Outcomes, to: Callable[..., Letter]) -> None:
    worker = make(raising(LaterError("busy", wait_s=120.0)))
    worker.submit(to("a", "k"))
    outcomes.wait(1)
    assert worker.trouble("other") == Trouble()
    assert worker.trouble("k") == Trouble(asked_s=120.0)
    assert worker.trouble("k") == Trouble()


def test_a_letter_refused_alone_is_told_from_an_address_that_is_away(
    make: Make, outcomes: Outcomes, to: Callable[..., Letter]
) -> None:
    worker = make(raising(DeliveryError("451 not this one", retry=True, letter_only=True)))
    worker.submit(to("a", "k"))
    outcomes.wait(1)
    assert worker.trouble("k").letter_only
