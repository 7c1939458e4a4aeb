"""The queue: stamps in its own order, bounded where it must be, and a tick that nothing later precedes."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest

from dawnline.event import Act, Delivered, Tick
from dawnline.probes.intake import Arrival, Batch, Intake, Receipt

RECEIPT = Receipt("mqtt", 1, b"12345678")


class Clock:
    def __init__(self, at: int) -> None:
        self.at = at

    def __call__(self) -> int:
        return self.at


def _one(value: float = 7.0, at: int | None = None, **more: object) -> Arrival:
    return Arrival("link", (("ph", value, at),), **more)  # type: ignore[arg-type]


def test_a_sample_bears_the_senders_time_or_the_stamp() -> None:
    intake = Intake(lambda: 100)
    intake.put(Arrival("link", (("ph", 7.1, None), ("water", 18.0, 42)), undated=True, receipt=RECEIPT))
    batch = intake.take(0)
    assert isinstance(batch, Batch)
    assert (batch.at, batch.link, batch.receipt) == (100, "link", RECEIPT)
    assert [tuple(s) for s in batch.samples] == [("ph", 100, 7.1, 100, False), ("water", 42, 18.0, 100, True)]


def test_stamps_increase_whatever_the_clock_does() -> None:
    clock = Clock(1_000)
    intake = Intake(clock, last_stamp=1_500)
    stamps = []
    for at in (1_000, 2_000, 2_000, 1_990, 3_000):
        clock.at = at
        intake.put(_one())
        intake.put_other(lambda stamp: Act("id", stamp, "note", {}))
        stamps += [getattr(intake.take(0), "at") for _ in range(2)]  # noqa: B009  an item of any kind
        stamps.append(getattr(intake.take(0), "at"))  # noqa: B009  and a tick
    assert stamps == sorted(set(stamps))
    assert stamps[0] == 1_501


def test_an_empty_queue_ticks_when_the_time_is_up() -> None:
    intake = Intake(lambda: 5)
    assert intake.take(0) == Tick(5)
    intake.put(_one())
    assert isinstance(intake.take(0), Batch)  # what waits goes first: a tick after it would bear a later stamp
    assert intake.take(0) == Tick(7)


def test_a_waiting_taker_is_given_what_comes() -> None:
    intake = Intake(lambda: 5)
    taken: list[object] = []
    taker = threading.Thread(target=lambda: taken.append(intake.take(60)))
    taker.start()
    intake.put_other(lambda stamp: Delivered("key", stamp, "delivered"))
    taker.join(10)
    assert taken == [Delivered("key", 5, "delivered")]


def test_a_full_queue_drops_what_has_no_receipt_and_takes_what_has() -> None:
    intake = Intake(lambda: 5, capacity=1)
    assert intake.put(_one(), block=False)
    assert not intake.put(_one(), block=False)
    assert intake.dropped == 1
    assert intake.put(_one(receipt=RECEIPT), block=False)
    intake.put_other(lambda stamp: Act("id", stamp, "note", {}))
    assert len(intake) == 3


def test_a_full_queue_holds_a_link_until_there_is_room_or_it_stops(eventually: Callable[..., None]) -> None:
    intake = Intake(lambda: 5, capacity=1)
    intake.put(_one(7.0))
    put: list[bool] = []
    waiting = threading.Thread(target=lambda: put.append(intake.put(_one(7.1))))
    waiting.start()
    first = intake.take(0)
    waiting.join(10)
    assert put == [True]
    assert isinstance(first, Batch)
    stopped = threading.Event()
    other = threading.Thread(target=lambda: put.append(intake.put(_one(7.2), stopped=stopped.is_set)))
    other.start()
    stopped.set()
    other.join(10)
    assert put == [True, False]


@pytest.mark.parametrize("capacity", [1, 7])
def test_many_links_one_taker_nothing_lost_and_in_order(capacity: int) -> None:
    ticking = iter(range(10**9))
    intake = Intake(lambda: next(ticking) // 3, capacity=capacity)
    links = [threading.Thread(target=lambda n=n: [intake.put(_one(n + i)) for i in range(500)]) for n in (0, 1000)]  # type: ignore[misc]
    for link in links:
        link.start()
    stamps: list[int] = []
    values: list[float] = []
    while len(values) < 1000:
        item = intake.take(0.001)
        stamps.append(item.at)
        if isinstance(item, Batch):
            values.append(item.samples[0].value)
    for link in links:
        link.join(10)
    assert stamps == sorted(set(stamps))
    assert sorted(values) == [float(n + i) for n in (0, 1000) for i in range(500)]
    assert [v for v in values if v < 1000] == [float(i) for i in range(500)]


def test_when_the_clock_is_set_no_stamp_is_given_twice_or_out_of_order() -> None:
    clock = Clock(100)
    intake = Intake(clock)
    for value in (7.0, 7.1, 7.2):
        intake.put(_one(value))

    def turn() -> int:
        clock.at += 900
        return 900

    assert intake.turn(turn) == (3, 900)
    intake.put(_one(7.3))
    items = [intake.take(0) for _ in range(4)]
    assert [item.at for item in items] == [100, 101, 102, 1003]
    clock.at += 50
    assert intake.take(0) == Tick(1050)
