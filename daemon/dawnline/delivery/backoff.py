"""How long to wait before an address is tried again (machine time, seconds), and when a letter is given up."""

from __future__ import annotations

from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.event import Priority
from dawnline.letter import Letter

FIRST_S = 5.0
LONGEST_S: Final[dict[Priority, float]] = {"low": 15 * 60.0, "medium": 15 * 60.0, "high": 5 * 60.0}
LONGEST_ASKED_S = 60 * 60.0  # a server that asks for more is asking us to stay silent
JITTER = 0.1  # share by which waits are spread, so that many ponds do not come back in step
# After so long (pond time) the news is none, and whoever looks at the pond knows more. Common practice, no source.
GIVEN_UP_MS: Final[dict[Priority, int]] = {"low": 24 * HOUR_MS, "medium": 24 * HOUR_MS, "high": 48 * HOUR_MS}

REPORT_MS: Final = 6 * DAY_MS  # a week is worth reading until the next one


def backoff(failures: int, asked_s: float | None = None, priority: Priority = "low") -> float:
    """Seconds to wait after the `failures`-th failure in a row: 5, 10, 20 ... 900, at most 300 for what is high.

    `asked_s` is what the other side asked for (Retry-After); the longer of the two counts, and no wish beyond
    an hour is granted.

    >>> [backoff(n) for n in (1, 2, 3, 9, 1000)]
    [5.0, 10.0, 20.0, 900.0, 900.0]
    >>> backoff(9, priority="high")
    300.0
    >>> backoff(1, asked_s=120.0)
    120.0
    """
    doublings = min(max(failures - 1, 0), 16)
    own = min(FIRST_S * 2.0**doublings, LONGEST_S[priority])
    return own if asked_s is None else max(own, min(asked_s, LONGEST_ASKED_S))


def too_late(letter: Letter, at: int) -> bool:
    """Whether a letter that was not delivered by `at` [ms] is given up."""
    return at - letter.at >= (GIVEN_UP_MS[letter.priority] if letter.week is None else REPORT_MS)
