"""Spike (QARTOD test 6, made causal): a value far from its recent neighbours is suspect until others bear it out.

The usual spike test needs the next reading and also accuses a spike's innocent neighbours. Here a reading is
compared with the median of the last good ones (that of a slow probe with the last one). A reading beyond the threshold
is suspect; when `BORNE_OUT` readings in a row agree with each other away from the old level it was no spike, and the
last of them is good again. Whether the water or the instrument moved so far is asked in step.py.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

REMEMBERED: Final = 5
BORNE_OUT: Final = 3  # the third reading that agrees is believed
CLOSE_MS: Final = 2 * MINUTE_MS  # readings further apart than this are compared with the last one alone
FORGOTTEN_MS: Final = 30 * MINUTE_MS  # after a gap this long there is no neighbour to compare with

_SPIKE: Final[Verdict] = (Flag.SUSPECT, Reason.SPIKE)


class Spike(Stateful):
    """Spike check of one series: `threshold` in its unit, which grows by `growth` a minute since the last good one."""

    KEPT = ("good", "last_good_at", "odd")

    def __init__(self, threshold: float, growth: float) -> None:
        self.threshold, self.growth = threshold, growth
        self.good: list[float] = []
        self.last_good_at = 0
        self.odd: list[float] = []

    def forget(self) -> None:
        """Begin anew: no neighbours."""
        self.good.clear()
        self.odd.clear()

    def push(self, at: int, value: float) -> Verdict:
        """The verdict on this value, measured at `at`; `not evaluated` where it has no neighbours."""
        good = self.good
        gap = at - self.last_good_at
        if not good or (gap > FORGOTTEN_MS and not self.odd):
            self._accept(at, value, fresh=True)
            return NOT_EVALUATED
        middle = sorted(good)[len(good) // 2] if gap <= CLOSE_MS else good[-1]
        allowed = self.threshold + self.growth * (gap / MINUTE_MS)
        if abs(value - middle) <= allowed:
            self._accept(at, value, fresh=False)
            return GOOD
        if self.odd and abs(value - self.odd[-1]) > self.threshold:
            self.odd.clear()
        self.odd.append(value)
        if len(self.odd) < BORNE_OUT:
            return _SPIKE
        self._accept(at, value, fresh=True)
        return GOOD

    def _accept(self, at: int, value: float, *, fresh: bool) -> None:
        if fresh:
            self.good.clear()
        if self.odd:
            self.odd.clear()
        self.good.append(value)
        if len(self.good) > REMEMBERED:
            del self.good[0]
        self.last_good_at = at
