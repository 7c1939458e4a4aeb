"""Spike (QARTOD test 6, made causal): a value far from its recent neighbours is suspect until others bear it out.

The usual spike test needs the next reading and also accuses a spike's innocent neighbours. Here a reading is compared
with the last good one, and where readings are close together also with the median of the last few. What moves may go on
moving: the threshold grows by the latest move. A reading beyond it is suspect. A spike comes back; readings that stay
near each other away from the old level, or go on in the same direction, bear each other out: the third of them (of a
slow probe the second) is good again. So a fall however fast is believed while it goes on. Whether the water or the
instrument moved so far is asked in step.py.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

REMEMBERED: Final = 5
BORNE_OUT: Final = 3  # the third reading that agrees is believed,
BORNE_OUT_SLOWLY: Final = 2  # of readings further apart than `CLOSE_MS` the second
CLOSE_MS: Final = 2 * MINUTE_MS  # readings further apart than this are compared with the last one alone
FORGOTTEN_MS: Final = 30 * MINUTE_MS  # after a gap this long there is no neighbour to compare with

_SPIKE: Final[Verdict] = (Flag.SUSPECT, Reason.SPIKE)


class Spike(Stateful):
    """Spike check of one series: `threshold` in its unit, which grows by `growth` a minute since the last good one."""

    KEPT = ("good", "last_good_at", "odd", "last_odd_at")

    def __init__(self, threshold: float, growth: float) -> None:
        self.threshold, self.growth = threshold, growth
        self.good: deque[float] = deque(maxlen=REMEMBERED)
        self.last_good_at = 0
        self.odd: list[float] = []
        self.last_odd_at = 0

    def forget(self) -> None:
        """Begin anew: no neighbours."""
        self.good.clear()
        self.odd.clear()

    def push(self, at: int, value: float) -> Verdict:
        """The verdict on this value, measured at `at`; `not evaluated` where it has no neighbours."""
        good = self.good
        gap = at - self.last_good_at
        if not good or (gap > FORGOTTEN_MS and not self.odd):
            self._believe(at, [value])
            return NOT_EVALUATED
        if abs(value - good[-1]) > self.threshold and not self._near(gap, value):
            return self._odd(at, value)
        if self.odd:
            self.odd.clear()
        good.append(value)
        self.last_good_at = at
        return GOOD

    def _near(self, gap: int, value: float) -> bool:
        """Whether the value is near the good ones, `gap` ms after the last of them."""
        good = self.good
        allowed = self.threshold + self.growth * (gap / MINUTE_MS)
        if gap <= CLOSE_MS and abs(value - sorted(good)[len(good) // 2]) <= allowed:
            return True
        pace = abs(good[-1] - good[-2]) if len(good) > 1 else 0.0
        return abs(value - good[-1]) <= allowed + pace

    def _odd(self, at: int, value: float) -> Verdict:
        """A value far from the good ones: a spike, unless enough before it say the same."""
        odd, last = self.odd, self.good[-1]
        gap = at - (self.last_odd_at if odd else self.last_good_at)
        if odd:
            agrees = abs(value - odd[-1]) <= self.threshold + self.growth * (gap / MINUTE_MS)
            goes_on = (value - odd[-1]) * (odd[0] - last) > 0
            if not agrees and not goes_on:
                odd.clear()
        odd.append(value)
        self.last_odd_at = at
        if len(odd) < (BORNE_OUT_SLOWLY if gap > CLOSE_MS else BORNE_OUT):
            return _SPIKE
        self._believe(at, odd)
        return GOOD

    def _believe(self, at: int, values: list[float]) -> None:
        self.good, self.odd = deque(values, maxlen=REMEMBERED), []
        self.last_good_at = at
