"""A smoothed series: the median of each minute's good readings, then a running median over the minutes.

Deaf to single spikes at any reading interval; the running median is centred, so its point lies half a window back.
"""

from __future__ import annotations

from collections import deque
from typing import Final, NamedTuple

from dawnline.duration import MINUTE_MS
from dawnline.state import Stateful

WINDOW_MS: Final = 15 * MINUTE_MS
LEAST_POINTS: Final = 3  # fewer cannot outvote a spike


class Point(NamedTuple):
    """A smoothed value, the time it stands for, and the newest reading's minute value behind it."""

    at: int
    value: float
    newest_at: int
    newest: float


class Smooth(Stateful):
    """Smoothing of one series, whatever its interval."""

    KEPT = ("minute", "values", "points")

    def __init__(self) -> None:
        self.minute = -1
        self.values: list[float] = []
        self.points: deque[tuple[int, float]] = deque()

    def forget(self) -> None:
        """Begin anew: what follows does not belong to what came before."""
        self.values = []
        self.points.clear()

    def push(self, at: int, value: float, interval: int) -> Point | None:
        """Take one good reading; gives the point of the minute before it where that is now complete."""
        minute = at // MINUTE_MS
        point = self.close(minute, interval) if minute != self.minute else None
        self.minute = minute
        self.values.append(value)
        return point

    def close(self, minute: int, interval: int) -> Point | None:
        """Close the open minute if it lies before `minute` (counted from the epoch)."""
        values = self.values
        if not values or self.minute >= minute:
            return None
        middle = sorted(values)[len(values) // 2] if len(values) % 2 else _mean_of_middle(values)
        at = self.minute * MINUTE_MS + MINUTE_MS // 2
        self.values = []
        points = self.points
        points.append((at, middle))
        oldest = at - max(WINDOW_MS, 3 * interval)
        while points[0][0] <= oldest:
            points.popleft()
        if len(points) < LEAST_POINTS:
            return None
        ranked = sorted([value for _, value in points])
        half, odd = divmod(len(ranked), 2)
        smooth = ranked[half] if odd else (ranked[half - 1] + ranked[half]) / 2
        return Point((points[0][0] + at) // 2, smooth, at, middle)


def _mean_of_middle(values: list[float]) -> float:
    ranked = sorted(values)
    half = len(ranked) // 2
    return (ranked[half - 1] + ranked[half]) / 2
