"""Tests by hand against the probe: two that agree with each other and not with the probe name the probe.

A drop kit reads in steps of 0.2 to 0.5 pH and by eye, so one test accuses only where it is far off; and what it says
about the size of the error is believed less its own uncertainty. Common practice, no source.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.state import Stateful

AGREES: Final = 0.4  # pH within which a drop test bears the probe out
ACCUSES_ALONE: Final = 0.8
UNCERTAIN: Final = 0.3  # of what a drop test says about the error
APART_MS: Final = 4 * HOUR_MS  # two tests sooner than this share one mistake
STALE_MS: Final = 30 * DAY_MS
REMEMBERED: Final = 5


class Hand(Stateful):
    """Differences of one pH probe from tests by hand."""

    KEPT = ("rows",)

    def __init__(self) -> None:
        self.rows: list[tuple[int, float]] = []  # time [ms], probe less hand test [pH]

    def forget(self) -> None:
        """The probe has been calibrated: begin anew."""
        self.rows.clear()

    def push(self, at: int, difference: float) -> None:
        """Take one comparison: probe less hand test [pH], at `at` [ms]."""
        if self.rows and at - self.rows[-1][0] < APART_MS:
            self.rows.pop()
        self.rows.append((at, difference))
        del self.rows[:-REMEMBERED]

    def amend(self, at: int, difference: float | None) -> None:
        """The test of `at` [ms] was corrected, to another difference or to none."""
        known = [] if difference is None else [(at, difference)]
        self.rows = [new for row in self.rows for new in ([row] if row[0] != at else known)]

    def difference(self, at: int) -> float | None:
        """How far the probe stands from the tests [pH], the smaller where two accuse; None where it is borne out."""
        rows = [difference for moment, difference in self.rows if at - moment <= STALE_MS]
        if not rows or abs(rows[-1]) <= AGREES:
            return None
        if len(rows) > 1 and abs(rows[-2]) > AGREES and rows[-1] * rows[-2] > 0:
            return min(rows[-2:], key=abs)
        return rows[-1] if abs(rows[-1]) > ACCUSES_ALONE else None

    def error(self, at: int) -> float:
        """The part of the difference that is certain [pH]; limits are judged less this. 0.0 where borne out."""
        difference = self.difference(at)
        if difference is None:
            return 0.0
        return max(abs(difference) - UNCERTAIN, 0.0) * (1 if difference > 0 else -1)
