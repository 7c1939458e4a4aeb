"""Which messages came by one of two subscriptions and are still to come by the other: each counts once.

The session (QoS 1) brings every message, in the order of its topic, but stands still while nothing is acknowledged.
The ear (QoS 0, mqtt_ear.py) hears what comes meanwhile, and that the session brings again, perhaps days later.
"""

from __future__ import annotations

import threading
from collections import Counter, deque
from collections.abc import Iterable
from typing import Final

MOST: Final = 100_000  # that are remembered: as many as memory holds readings


class Echo:
    """Messages by topic and digest, for two threads. `before` is what the ear heard in the last run, in order."""

    def __init__(self, before: Iterable[bytes] = ()) -> None:
        self._before = deque(before)  # those that the session has brought already among them
        self._lock = threading.Lock()
        self._ahead: dict[str, Counter[bytes]] = {}  # heard by the ear, to come by the session
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

    def through(self) -> bool:
        """Whether the session has brought all that the ear heard."""
        with self._lock:
            return not self._before and not any(self._ahead.values())

    def unheard(self, topic: str, digest: bytes) -> None:
        """What the ear heard could not be taken after all."""
        with self._lock:
            _less(self._ahead.get(topic, Counter()), digest)

    def by_ear(self, topic: str, digest: bytes) -> bool:
        """The ear heard a message; whether it is new."""
        with self._lock:
            if not self._listening:
                return False  # too late: the session has it
            if _less(self._behind, digest):
                return False
            ahead = self._ahead.setdefault(topic, Counter())
            ahead[digest] += 1
            if len(ahead) > MOST:
                del ahead[next(iter(ahead))]
            return True

    def by_session(self, topic: str, digest: bytes) -> bool:
        """The session brought a message; whether it is new."""
        with self._lock:
            ahead = self._ahead.get(topic)
            if ahead is not None and _less(ahead, digest):
                return False
            if digest in self._before:
                while self._before.popleft() != digest:
                    pass  # it came before that run ended
                return False
            self._before.clear()
            if self._listening:
                self._behind[digest] += 1
            elif ahead is not None:
                del self._ahead[topic]  # all that the ear heard of this topic is through
            return True


def _less(counts: Counter[bytes], digest: bytes) -> bool:
    """One less of this; whether there was one."""
    if not counts[digest]:
        del counts[digest]
        return False
    counts[digest] -= 1
    if not counts[digest]:
        del counts[digest]
    return True
