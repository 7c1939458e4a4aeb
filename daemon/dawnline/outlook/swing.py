"""The rolling swing: highest less lowest smoothed pH of the last 24 hours."""

from __future__ import annotations

from bisect import bisect_left
from collections import deque
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.state import Stateful

LEAST_HOURS: Final = 15  # of 24 with data, else there is no figure (60 %, as for a day's windows)


class Swing(Stateful):
    """Streaming extremes over 24 hours, each point handled once (two monotonic queues)."""

    KEPT = ("lows", "highs", "hours")

    def __init__(self) -> None:
        self.lows: deque[tuple[int, float]] = deque()
        self.highs: deque[tuple[int, float]] = deque()
        self.hours: deque[int] = deque()

    def push(self, at: int, value: float) -> None:
        """Take one smoothed point."""
        lows, highs = self.lows, self.highs
        while lows and lows[-1][1] >= value:
            lows.pop()
        lows.append((at, value))
        while highs and highs[-1][1] <= value:
            highs.pop()
        highs.append((at, value))
        hours, hour, oldest = self.hours, at // HOUR_MS, at - DAY_MS
        if not hours or hour > hours[-1]:
            hours.append(hour)
        while lows[0][0] <= oldest:
            lows.popleft()
        while highs[0][0] <= oldest:
            highs.popleft()
        while hours[0] < oldest // HOUR_MS:
            hours.popleft()

    def shift(self, change: float) -> None:
        """All that is remembered counts for `change` pH more: the probe was calibrated."""
        self.lows = deque((at, value + change) for at, value in self.lows)
        self.highs = deque((at, value + change) for at, value in self.highs)

    def figure(self, at: int) -> float | None:
        """The swing over the 24 h before `at` in pH units, or None where too little of it was seen.

        Asking changes nothing.
        """
        oldest = at - DAY_MS
        seen = len(self.hours) - bisect_left(self.hours, oldest // HOUR_MS)
        if seen < LEAST_HOURS:
            return None
        highest = next(value for moment, value in self.highs if moment > oldest)
        return highest - next(value for moment, value in self.lows if moment > oldest)
