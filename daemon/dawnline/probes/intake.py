"""The one queue between the links and the core: bounded, and stamped in its own order.

Stamps are pond time and strictly increase in queue order, whatever the clock does and however many links
put: they are given under the queue's lock. A tick is stamped under the same lock, and only while the queue is
empty, so nothing that comes later can bear an earlier stamp.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import NamedTuple, TypeAlias

from dawnline.event import Act, Delivered, Storing, Tick
from dawnline.reading import Sample

CAPACITY = 1_000
OVERHEARD = " overheard"
_LOOK_AGAIN_S = 0.2  # machine time: how often a blocked link looks whether it should stop

Measured: TypeAlias = tuple[str, float, int | None]
"""Probe, value, and the sender's time (Unix ms, UTC) or None."""


class Receipt(NamedTuple):
    """One MQTT message to be acknowledged once it is committed: its packet id, and a hash of what it said.

    With `mid` 0 nobody waits for it: it was overheard, and the message itself is still to come.
    """

    link: str
    mid: int
    digest: bytes


def overheard(link: str) -> str:
    """The name of the link in receipts of what was overheard beside it."""
    return link + OVERHEARD


class Arrival(NamedTuple):
    """What a link puts in. `undated`: a value without a time of its own may be of any age (retained)."""

    link: str
    values: tuple[Measured, ...]
    undated: bool = False
    receipt: Receipt | None = None


class Batch(NamedTuple):
    """What the core takes out: the samples of one arrival, all received `at` (pond time, Unix ms)."""

    at: int
    link: str
    samples: tuple[Sample, ...]
    receipt: Receipt | None


Item: TypeAlias = Batch | Act | Delivered | Storing


class Intake:
    """The queue. `now` gives pond time in Unix ms; `capacity` bounds the batches that wait and have no receipt.

    Those with one are bounded by the broker's window, and a flood of them keeps no other link waiting.

    `dropped` counts what a full queue cost. `last_stamp` is the last of the run before, so that stamps go on from
    there.
    """

    def __init__(self, now: Callable[[], int], capacity: int = CAPACITY, last_stamp: int = 0) -> None:
        self._now = now
        self._capacity = capacity
        self._last = last_stamp
        self._items: deque[Item] = deque()
        self._batches = 0
        self._lock = threading.Lock()
        self._filled = threading.Condition(self._lock)
        self._drained = threading.Condition(self._lock)
        self.dropped = 0

    def __len__(self) -> int:
        return len(self._items)

    def put(self, arrival: Arrival, *, block: bool = True, stopped: Callable[[], bool] = lambda: False) -> bool:
        """Put an arrival in; false where it was dropped.

        With `block` a full queue is waited for, until `stopped` says otherwise. Without, an arrival that has
        a receipt goes in regardless (the broker's in-flight window bounds those), another one is dropped.
        """
        with self._lock:
            bounded = arrival.receipt is None or not arrival.receipt.mid
            while self._batches >= self._capacity and (block or bounded):
                if not block or stopped():
                    self.dropped += 1
                    return False
                self._drained.wait(_LOOK_AGAIN_S)
            self._items.append(_stamped(arrival, self._stamp()))
            self._batches += bounded
            self._filled.notify()
        return True

    def put_other(self, build: Callable[[int], Act | Delivered | Storing]) -> None:
        """Put in what `build` makes of its stamp: an act, a delivery's end. Never waits, never drops."""
        with self._lock:
            self._items.append(build(self._stamp()))
            self._filled.notify()

    def take(self, timeout_s: float) -> Item | Tick:
        """The next item; a tick where none came for `timeout_s` (machine time).

        Items that wait go before a tick. For one taker: the core.
        """
        until = time.monotonic() + timeout_s
        with self._lock:
            while not self._items:
                left = until - time.monotonic()
                if left <= 0:
                    return Tick(self._stamp())
                self._filled.wait(left)
            item = self._items.popleft()
            if isinstance(item, Batch) and (item.receipt is None or not item.receipt.mid):
                self._batches -= 1
                self._drained.notify()
            return item

    def turn(self, turn: Callable[[], int]) -> tuple[int, int]:
        """Let `turn` set the clock while nothing is stamped; it returns by how much later time is now [ms].

        Returns how many of the items that wait bear a stamp from before, and what `turn` gave.
        """
        with self._lock:
            by = turn()
            self._last += by
            return len(self._items), by

    def _stamp(self) -> int:
        self._last = max(self._now(), self._last + 1)
        return self._last


def _stamped(arrival: Arrival, stamp: int) -> Batch:
    samples = tuple(
        Sample(probe, stamp if at is None else at, value, stamp, dated=at is not None or not arrival.undated)
        for probe, value, at in arrival.values
    )
    return Batch(stamp, arrival.link, samples, arrival.receipt)
