"""A wish to stop that a signal handler may utter safely."""

from __future__ import annotations

import os
import select

LONGEST_S = 1e9  # some thirty years; select refuses to wait for centuries


class Stop:
    """Like threading.Event, but `set` may interrupt `wait` in its own thread.

    Event.set inside a signal handler can wait for ever on the lock that the interrupted Event.wait holds; a
    pipe has no such lock.
    """

    def __init__(self) -> None:
        self._read, self._write = os.pipe()

    def set(self) -> None:
        """Wish it; for ever."""
        os.write(self._write, b"\0")

    def is_set(self) -> bool:
        """Was it wished?"""
        return self.wait(0.0)

    def wait(self, seconds: float) -> bool:
        """Wait so many machine seconds, or until it is wished; was it?

        >>> stop = Stop()
        >>> stop.wait(0.0), stop.set(), stop.wait(60.0)
        (False, None, True)
        """
        return bool(select.select([self._read], [], [], min(seconds, LONGEST_S))[0])
