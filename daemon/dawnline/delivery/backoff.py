"""How long to wait before a letter is tried again: machine time, seconds."""

from __future__ import annotations

FIRST_S = 5.0
LONGEST_S = 15 * 60.0
LONGEST_ASKED_S = 60 * 60.0  # a server that asks for more is asking us to stay silent


def backoff(attempts: int, asked_s: float | None = None) -> float:
    """Seconds to wait after the `attempts`-th attempt failed: 5, 10, 20 ... 900.

    `asked_s` is what the other side asked for (Retry-After); the longer of the two counts, and no wish beyond
    an hour is granted.

    >>> [backoff(n) for n in (1, 2, 3, 9, 1000)]
    [5.0, 10.0, 20.0, 900.0, 900.0]
    >>> backoff(1, asked_s=120.0)
    120.0
    """
    doublings = min(max(attempts - 1, 0), 16)
    own = min(FIRST_S * 2.0**doublings, LONGEST_S)
    return own if asked_s is None else max(own, min(asked_s, LONGEST_ASKED_S))
