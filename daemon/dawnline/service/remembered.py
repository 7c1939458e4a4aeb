"""Receipts of messages that are on disk and that the broker may send again all the same.

An acknowledgement can be lost with the connection or the process. How many are at stake is not bounded by the broker's
in-flight window: mosquitto 2.0.11 was seen to send the unacknowledged ones and twenty more at each new connection, 130
after a few kills in a row. So a receipt is kept for a while after its acknowledgement was handed over, long enough for
the broker to have read it, and the newest for longer, since a broker may be away when they are committed.

Receipts of what was overheard while the broker waited (probes/links/mqtt_ear.py) are kept until all of it has come by
the session, and a while more, so that what comes again is acknowledged before they go.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Container, Iterable, Sequence
from typing import Final

from dawnline.probes.intake import OVERHEARD, Receipt, overheard
from dawnline.probes.links.link import Link

LEAST: Final = 80  # newest of a link, whatever their age; four times the window that brokers grant by default
MOST: Final = 20_000  # of a link; twice the largest window, 10 B each in the store
KEPT_S: Final = 10.0  # machine time


class Remembered:
    """The receipts to be stored with each commit, by link."""

    def __init__(self, monotonic_s: Callable[[], float] = time.monotonic) -> None:
        self._monotonic_s = monotonic_s
        self._by_link: dict[str, deque[tuple[float, int, bytes]]] = {}
        self._through_s: dict[str, float] = {}  # since when all that was overheard has come

    def add(self, receipts: Iterable[Receipt]) -> None:
        """These are committed now, or were in the last run."""
        now_s = self._monotonic_s()
        for receipt in receipts:
            kept = self._by_link.setdefault(receipt.link, deque(maxlen=MOST))
            kept.append((now_s, receipt.mid, receipt.digest))

    def of(self, link: str) -> list[tuple[int, bytes]]:
        """Packet ids and digests of one link, oldest first, without those no longer at stake."""
        kept, until_s = self._by_link.get(link, deque()), self._monotonic_s() - KEPT_S
        while len(kept) > LEAST and kept[0][0] < until_s and not link.endswith(OVERHEARD):
            kept.popleft()
        return [(mid, digest) for _, mid, digest in kept]

    def beside(self, receipts: Iterable[Receipt], links: Iterable[Link] = ()) -> dict[str, Sequence[tuple[int, bytes]]]:
        """For each link with new receipts its latest ones, these included, which are not added yet; none for what was
        overheard beside one of the `links` and is through.
        """
        new: dict[str, list[tuple[int, bytes]]] = {}
        for receipt in receipts:
            new.setdefault(receipt.link, []).append((receipt.mid, receipt.digest))
        found: dict[str, Sequence[tuple[int, bytes]]] = {n: (self.of(n) + rows)[-MOST:] for n, rows in new.items()}
        found.update({name: () for link in links if self._through(name := overheard(link.name), link, new)})
        return found

    def _through(self, name: str, link: Link, new: Container[str]) -> bool:
        """Whether what was overheard is to be forgotten now."""
        if name not in self._by_link or name in new or not link.all_heard():
            self._through_s.pop(name, None)
            return False
        if self._monotonic_s() - self._through_s.setdefault(name, self._monotonic_s()) < KEPT_S:
            return False
        del self._by_link[name], self._through_s[name]
        return True
