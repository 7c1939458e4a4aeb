"""Receipts of messages that are on disk and that the broker may send again all the same.

An acknowledgement can be lost with the connection or the process. How many are at stake is not bounded by the broker's
in-flight window: mosquitto 2.0.11 was seen to send the unacknowledged ones and twenty more at each new connection, 130
after a few kills in a row. So a receipt is kept for a while after its acknowledgement was handed over, long enough for
the broker to have read it, and the newest for longer, since a broker may be away when they are committed.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from typing import Final

from dawnline.probes.intake import Receipt

LEAST: Final = 80  # newest of a link, whatever their age; four times the window that brokers grant by default
MOST: Final = 20_000  # of a link; twice the largest window, 10 B each in the store
KEPT_S: Final = 10.0  # machine time


class Remembered:
    """The receipts to be stored with each commit, by link."""

    def __init__(self, monotonic_s: Callable[[], float] = time.monotonic) -> None:
        self._monotonic_s = monotonic_s
        self._by_link: dict[str, deque[tuple[float, int, bytes]]] = {}

    def add(self, receipts: Iterable[Receipt]) -> None:
        """These are committed now, or were in the last run."""
        now_s = self._monotonic_s()
        for receipt in receipts:
            kept = self._by_link.setdefault(receipt.link, deque(maxlen=MOST))
            kept.append((now_s, receipt.mid, receipt.digest))

    def of(self, link: str) -> list[tuple[int, bytes]]:
        """Packet ids and digests of one link, oldest first, without those no longer at stake."""
        kept, until_s = self._by_link.get(link, deque()), self._monotonic_s() - KEPT_S
        while len(kept) > LEAST and kept[0][0] < until_s:
            kept.popleft()
        return [(mid, digest) for _, mid, digest in kept]

    def beside(self, receipts: Iterable[Receipt]) -> dict[str, Sequence[tuple[int, bytes]]]:
        """For each link with new receipts its latest ones, these included, which are not added yet."""
        new: dict[str, list[tuple[int, bytes]]] = {}
        for receipt in receipts:
            new.setdefault(receipt.link, []).append((receipt.mid, receipt.digest))
        return {name: (self.of(name) + rows)[-MOST:] for name, rows in new.items()}
