"""Which messages came by one of two subscriptions and are still to come by the other: each counts once.

The session (QoS 1) brings every message, but stands still while nothing is acknowledged. The ear (QoS 0, mqtt_ear.py)
hears what comes meanwhile, and that the session brings again, perhaps days later.
"""

from __future__ import annotations

import threading
from collections import Counter, deque
from collections.abc import Iterable
from typing import Final

MOST: Final = 100_000  # that are remembered: as many as memory holds readings


class Echo:
    """Messages by digest, for two threads. `before` is what the ear heard in the last run, in order."""

    def __init__(self, before: Iterable[bytes] = ()) -> None:
        self._lock = threading.Lock()
        self._before = deque(before)  # those that the session has brought already among them
        self._ahead: Counter[bytes] = Counter()  # heard by the ear, to come by the session
        self._behind: Counter[bytes] = Counter()  # come by the session while the ear listened
        self._listening = False

    def listening(self, on: bool) -> None:
        """The ear begins to listen, or has ended."""
        with self._lock:
            self._listening = on
            self._behind.clear()

    def forget(self) -> None:
        """The broker has forgotten the session: nothing of it will come any more."""
        with self._lock:
            self._ahead.clear()
            self._before.clear()

    def quiet(self) -> None:
        """The session had nothing to bring for a while, and could have: what has not come was lost at the broker."""
        if not self._listening:
            self.forget()

    def through(self) -> bool:
        """Whether the session has brought all that the ear heard."""
        with self._lock:
            return not self._before and not self._ahead

    def unheard(self, digest: bytes) -> None:
        """What the ear heard could not be taken after all."""
        with self._lock:
            _less(self._ahead, digest)

    def by_ear(self, digest: bytes) -> bool:
        """The ear heard a message; whether it is new."""
        with self._lock:
            if not self._listening:
                return False  # too late: the session has it
            if _less(self._behind, digest):
                return False
            self._ahead[digest] += 1
            if len(self._ahead) > MOST:
                del self._ahead[next(iter(self._ahead))]
            return True

    def by_session(self, digest: bytes) -> bool:
        """The session brought a message; whether it is new. One that waited before the ear began is."""
        with self._lock:
            if _less(self._ahead, digest):
                return False
            if digest in self._before:
                while self._before.popleft() != digest:
                    pass  # it came before that run ended
                return False
            if self._listening:
                self._behind[digest] += 1
            return True


def _less(counts: Counter[bytes], digest: bytes) -> bool:
    """One less of this; whether there was one."""
    if digest not in counts:
        return False
    counts[digest] -= 1
    if not counts[digest]:
        del counts[digest]
    return True
