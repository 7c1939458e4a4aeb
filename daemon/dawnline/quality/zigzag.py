"""Zigzag: a series that turns back again and again, as water does not within an hour.

A mains hum seen at a fixed interval is a slow beat, a dry bulb walks about: from one reading to the next such a series
may look smooth, so that noise.py does not see it, and it still goes up and down by more than a pond does within the
hour. Turning points are counted: a turn is a move against the last one by at least `least`, seen in the median of
three readings, so that single spikes make none. Four within an hour (of a slow probe within twelve readings) are no
water; with two a fall is not yet to be believed. A slower beat must be a wider one, or it could be water, which at the
edge of a bright, layered lake has turned three times by 0.6 pH within four hours (Lake Archer, Massachusetts, June
2024): then more or larger turns count over that time (`WIDER`), until none has come for a third of it. What has
moved for half an hour by less than a turn is calm: nothing before it counts.
Common practice, no source; set on simulated faults and on public records.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.quality.noise import Noise
from dawnline.state import Stateful

WINDOW_MS: Final = HOUR_MS
READINGS: Final = 12  # the window of a slow probe
MOST: Final = 4
RESTLESS: Final = 2
FEW: Final = 1  # with so few, it is over
WIDE_MS: Final = 4 * HOUR_MS
WIDER: Final = ((4, 3.0), (3, 5.0))  # so many turns within that time, by so many times the least move of an hour
CALM_MS: Final = 30 * MINUTE_MS
CALM_READINGS: Final = 30
TIMES_USUAL: Final = 6.0  # of the probe's usual restlessness
GRAINS: Final = 2.5  # a converter that turns over by a count or two has not turned
# Least move in the quantity's unit for readings at most a minute apart, and for slower ones.
FLOORS: Final[dict[str, tuple[float, float]]] = {
    "ph": (0.1, 0.15),
    "electrode_mv": (6.0, 9.0),
}


class Zigzag(Stateful):
    """Turning points of one series; feed it every value inside the instrument's span, in order of time."""

    KEPT = ("last", "before", "high", "low", "way", "turns", "noisy", "extremes", "wide_until", "calm")

    def __init__(self, quantity: str) -> None:
        self.floors = FLOORS.get(quantity)
        self.last: float | None = None
        self.before: float | None = None
        self.high, self.low = float("-inf"), float("inf")  # while going up, while going down
        self.way = 0  # 1 up, -1 down, 0 while not known
        self.turns: list[int] = []  # their times [ms]
        self.noisy = False
        self.extremes: list[tuple[int, float]] = []  # where it turned: when this was seen [ms], and the value
        self.wide_until = 0  # until when the wider turns count as noise [ms]
        self.calm = (0, 0.0, 0.0)  # since when [ms], after a turn, it has moved by less, and between what

    def forget(self) -> None:
        """Begin anew."""
        self.last = self.before = None
        self.way, self.high, self.low = 0, float("-inf"), float("inf")
        self.turns.clear()
        self.extremes.clear()
        self.noisy, self.wide_until = False, 0

    @property
    def restless(self) -> bool:
        """Whether it turned back so often that a fall is not to be believed yet."""
        return len(self.turns) >= RESTLESS

    def push(self, at: int, value: float, interval: int | None, noise: Noise) -> bool:
        """Take a value measured at `at` [ms]; whether the series goes up and down as water does not.

        `noise` knows how the probe usually trembles, and one count of its converter.
        """
        last, before = self.last, self.before
        self.last, self.before = value, last
        if self.floors is None or last is None or before is None:
            return False
        lower, upper = (value, last) if value < last else (last, value)
        middle = lower if before < lower else upper if before > upper else before
        if middle > self.high:  # noqa: PLR1730 - for each reading
            self.high = middle
        if middle < self.low:  # noqa: PLR1730
            self.low = middle
        way, least = self.way, self.floors[0]
        if (way >= 0 and self.high - middle >= least) or (way <= 0 and middle - self.low >= least):
            least = self._least(interval, noise)
            furthest = self.high if way > 0 else self.low
            if self._turned(middle, least):
                self.turns.append(at)
                self.calm = (at, middle, middle)
                self._widely(at, furthest, least)
        if self.turns or at < self.wide_until:
            if self._calm(at, middle, interval, noise):
                self.forget()
                return False
            window = max(WINDOW_MS, READINGS * (interval or 0))
            while self.turns and at - self.turns[0] > window:
                del self.turns[0]
            self.noisy = len(self.turns) > FEW if self.noisy else len(self.turns) >= MOST
        return self.noisy or at < self.wide_until

    def _calm(self, at: int, value: float, interval: int | None, noise: Noise) -> bool:
        """Whether it has moved for half an hour by less than a turn."""
        since, low, high = self.calm
        low, high = min(low, value), max(high, value)
        if high - low >= self._least(interval, noise):
            since, low, high = at, value, value
        self.calm = (since, low, high)
        return at - since >= max(CALM_MS, CALM_READINGS * (interval or 0))

    def _least(self, interval: int | None, noise: Noise) -> float:
        """The least move of a turn."""
        assert self.floors is not None
        slow = interval is None or interval > MINUTE_MS
        return max(self.floors[slow], TIMES_USUAL * noise.usual_at(interval), GRAINS * (noise.grain or 0.0))

    def _widely(self, at: int, furthest: float, least: float) -> None:
        """A turn was seen at `at` [ms], `furthest` is where it was: whether the wide ones are too many by now."""
        extremes = self.extremes
        extremes.append((at, furthest))
        while at - extremes[0][0] > WIDE_MS:
            del extremes[0]
        values = [value for _, value in extremes]
        if any(wide_turns(values, times * least) >= most for most, times in WIDER):
            self.wide_until = at + WIDE_MS // 3

    def _turned(self, value: float, least: float) -> bool:
        """Whether the value has come back by `least` from the furthest since the last turn."""
        if self.way >= 0 and value <= self.high - least:
            turned, self.way, self.low = self.way > 0, -1, value
        elif self.way <= 0 and value >= self.low + least:
            turned, self.way, self.high = self.way < 0, 1, value
        else:
            return False
        return turned


def wide_turns(extremes: list[float], least: float) -> int:
    """How often a series with these turning points turned back by at least `least`; the last one it did turn at.

    >>> wide_turns([7.5, 7.0, 7.1, 6.9, 7.4, 7.0], 0.3)
    4
    """
    turns, way, furthest = 1, 0, extremes[0]
    for value in extremes[1:]:
        if (value - furthest) * way > 0:
            furthest = value
        elif abs(value - furthest) >= least:
            turns, way, furthest = turns + 1, (1 if value > furthest else -1), value
    return turns
