"""Gap (QARTOD test 1): more time since the last measurement than there should be.

The verdict names the silence, and stands at the reading that ends it, as in ioos_qc `time_gap_test`. That reading
itself is innocent: the judge keeps it good and only says that it comes after a gap. Nobody is alarmed by this check;
while a silence lasts, `no-data` does that.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

INTERVALS: Final = 3  # a probe may miss its turn twice; common practice, no source
SHORTEST_MS: Final = 5 * MINUTE_MS  # and no silence shorter than this is one

_GAP: Final[Verdict] = (Flag.FAIL, Reason.AFTER_GAP)


class Gap(Stateful):
    """Gaps of one series. `after` [ms] is the longest time allowed; None: three intervals, at least 5 min."""

    KEPT = ("last_at", "length")

    def __init__(self, after: int | None = None) -> None:
        self.after = after
        self.shortest = SHORTEST_MS if after is None else after
        self.last_at: int | None = None
        self.length = 0  # time since the reading before [ms]

    def push(self, at: int, interval: int | None = None) -> Verdict:
        """The verdict on the time before a reading measured at `at` [ms]; `interval` [ms] as far as known."""
        before = self.last_at
        self.last_at = at
        if before is None:
            return NOT_EVALUATED
        self.length = length = at - before
        if length <= self.shortest:
            return GOOD
        if self.after is None and (interval is None or length <= INTERVALS * interval):
            return GOOD
        return _GAP
