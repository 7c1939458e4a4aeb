"""Rate of change (QARTOD test 7): a change faster than water can make is the instrument's.

A real fall must never be hidden. Acid from a bucket takes minutes to mix into a garden pond, so that pH falls by half a
unit a minute at most; the ordinary limit is twice that. Even where water did change faster (a plume at the probe), the
flag lasts no longer than the change: pH that falls by 1 a minute has left the scale in less time than any alarm's
on-delay, and the level it comes to is judged anew. What the check is for is the slide of a drying bulb or a loose
contact, whose single steps are too small for the spike check.

As in ioos_qc the limit is a rate, not a multiple of a standard deviation, which a calm pond makes tiny. Unlike there, a
change below `least` is noise however short the time: at one reading a second every probe hisses faster than water.
"""

from __future__ import annotations

from typing import Final

from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

_SUSPECT: Final[Verdict] = (Flag.SUSPECT, Reason.TOO_FAST)
_FAIL: Final[Verdict] = (Flag.FAIL, Reason.TOO_FAST)


class Rate(Stateful):
    """Rate of change from one reading to the next, in units per second; a change at the limit passes."""

    KEPT = ("last_at", "last_value")

    def __init__(self, suspect: float, fail: float | None = None, *, least: float = 0.0) -> None:
        self.suspect = suspect
        self.fail = fail
        self.least = least
        self.last_at: int | None = None
        self.last_value = 0.0

    def forget(self) -> None:
        """What comes next is not compared with what came before."""
        self.last_at = None

    def push(self, at: int, value: float) -> Verdict:
        """The verdict on `value`, measured at `at` [ms], later than the one before."""
        before, change = self.last_at, abs(value - self.last_value)
        self.last_at, self.last_value = at, value
        if before is None:
            return NOT_EVALUATED
        if change <= self.least:
            return GOOD
        rate = change / ((at - before) / 1000.0)
        if rate <= self.suspect:
            return GOOD
        return _FAIL if self.fail is not None and rate > self.fail else _SUSPECT
