"""A turn: pH that has come up again within a few readings falls no more, or never fell as water does.

Acid and breath take pH down one way, and what they took comes back over hours. What a probe in the air or on a bad
plug loses it regains within minutes, and loses again. Common practice, no source; set on simulated faults.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.state import Stateful

REMEMBERED_MS: Final = 30 * MINUTE_MS
REMEMBERED: Final = 6  # readings of a slow probe
FALLING_MS: Final = 15 * MINUTE_MS  # who came up within so long,
FALLING: Final = 3  # or so many readings of a slow probe,
RISEN: Final = 0.1  # by so much [pH], falls no more;
RISEN_LOW: Final = 0.25  # by so much within what is remembered, shows no low pH yet
COUNTS: Final = 1.5  # of the converter
TIMES_HISS: Final = 4.0  # times what it usually trembles by


class Turn(Stateful):
    """Follows one pH probe minute by minute; slow probes reading by reading."""

    KEPT = ("latest", "interval")

    def __init__(self) -> None:
        self.latest: deque[tuple[int, float]] = deque()
        self.interval = MINUTE_MS

    def forget(self) -> None:
        """Begin anew."""
        self.latest.clear()

    def push(self, at: int, value: float, interval: int) -> None:
        """Take one minute's pH; `interval` [ms] is how often the probe speaks."""
        latest = self.latest
        latest.append((at, value))
        self.interval = interval
        oldest = at - max(REMEMBERED_MS, REMEMBERED * interval)
        while latest[0][0] <= oldest:
            latest.popleft()

    def falling(self, grain: float, hiss: float) -> bool:
        """Whether it has not come up lately; `grain` is one count, `hiss` its usual trembling [pH]."""
        return self._risen(max(FALLING_MS, FALLING * self.interval)) <= _least(RISEN, grain, hiss)

    def low(self, grain: float, hiss: float) -> bool:
        """Whether a low pH is to be believed; `grain` and `hiss` as in `falling`."""
        return self._risen(max(REMEMBERED_MS, REMEMBERED * self.interval)) <= _least(RISEN_LOW, grain, hiss)

    def _risen(self, within: int) -> float:
        """The largest rise from one minute to any later one of the last ones [pH]."""
        low, risen = float("inf"), 0.0
        since = self.latest[-1][0] - within if self.latest else 0
        for at, value in self.latest:
            if at > since:
                low = min(low, value)
                risen = max(risen, value - low)
        return risen


def _least(least: float, grain: float, hiss: float) -> float:
    return max(least, COUNTS * grain, TIMES_HISS * hiss)
