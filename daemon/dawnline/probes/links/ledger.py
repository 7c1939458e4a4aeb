"""Which MQTT messages were seen, and which of them are on disk: so that a redelivery is known for one.

The broker sends a message again, under the same packet id and with its duplicate flag set, when the
connection broke before it had our acknowledgement (MQTT 3.1.1, section 4.4). Packet ids mean something within
one session only.
"""

from __future__ import annotations

import hashlib
import threading
from collections import Counter, deque
from collections.abc import Iterable
from typing import Literal, TypeAlias

# Twice the largest window, which mosquitto 2.0.11 does not keep to after a reconnection; ids are counted up to 65 535
# before one is used again.
REMEMBERED = 20_000

Key: TypeAlias = tuple[int, bytes]
"""Packet id, and the hash of topic and payload."""


def digest_of(topic: str, payload: bytes) -> bytes:
    """The hash of topic and payload, 8 bytes."""
    return hashlib.blake2b(topic.encode() + payload).digest()[:8]


class Ledger:
    """The messages of this session. `committed` are on disk since the last run, perhaps not acknowledged."""

    def __init__(self, committed: Iterable[Key]) -> None:
        self._lock = threading.Lock()
        self._pending: set[Key] = set()
        self._stale: Counter[Key] = Counter()
        self._committed: deque[Key] = deque(committed, maxlen=REMEMBERED)

    def new_session(self) -> None:
        """The broker has forgotten us: the old ids are void, none of them may be acknowledged any more."""
        with self._lock:
            self._stale.update(self._pending)
            self._pending.clear()
            self._committed.clear()

    def arrived(self, key: Key, *, duplicate: bool) -> Literal["new", "pending", "committed"]:
        """What to do with a message: take it, swallow it, or acknowledge it at once."""
        with self._lock:
            if key in self._pending:
                # In flight an id is not used twice, so this is a redelivery, flagged as one or not.
                return "pending"
            if duplicate and key in self._committed:
                return "committed"
            self._pending.add(key)
            return "new"

    def commit(self, key: Key) -> bool:
        """The message is on disk; true where the broker of this session waits for its acknowledgement."""
        with self._lock:
            if self._stale[key] > 0:
                self._stale[key] -= 1
                self._stale += Counter()  # drops what has come down to zero
                return False
            self._pending.discard(key)
            self._committed.append(key)
            return True

    def __len__(self) -> int:
        return len(self._pending)

    def forget(self, key: Key) -> None:
        """The message could not be passed on: its redelivery is to be taken for a new one."""
        with self._lock:
            self._pending.discard(key)
