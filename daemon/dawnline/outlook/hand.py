"""Tests by hand against the probe: two that agree with each other and not with the probe name the probe.

A drop kit reads in steps of 0.2 to 0.5 pH and by eye, so one test accuses only where it is far off, or where the days
of the probe have crept away since a test that bore it out by as much as the new one says; and what it says about the
size of the error is believed less its own uncertainty. A probe that drifts goes on drifting after the test,
as evenly as before (USGS Techniques and Methods 1-D3 spreads a drift evenly between two visits): while its level goes
on changing from day to day the way of the last tests, so much more of it counts as the probe's, at their pace at the
most. What falls faster than that is the water. Thresholds: common practice, no source.
"""

from __future__ import annotations

from math import copysign
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.electrode.drift import LIMIT
from dawnline.state import Stateful

AGREES: Final = 0.4  # pH within which a drop test bears the probe out
ACCUSES_ALONE: Final = 0.8
CREPT: Final = 0.6  # of what two tests differ by; a probe whose days crept so far since the first did not follow water
UNCERTAIN: Final = 0.3  # of what a drop test says about the error
UNCERTAIN_CREPT: Final = 0.15  # where the days of the probe say the same
APART_MS: Final = 4 * HOUR_MS  # two tests sooner than this share one mistake
STALE_MS: Final = 30 * DAY_MS
REMEMBERED: Final = 5
PACE_OVER_MS: Final = 3 * DAY_MS  # tests sooner after each other say nothing of a pace
MOST_PACE: Final = 0.4  # pH a day; more than this is no drift
OF_PACE: Final = 1.25  # of the pace may count as the probe's
PACE_HOLDS_MS: Final = 10 * DAY_MS  # from the last test


class Hand(Stateful):
    """Differences of one pH probe from tests by hand."""

    KEPT = ("rows", "drifted", "carried", "crept")

    def __init__(self) -> None:
        # Time [ms], probe less hand test [pH], by how much the probe's days moved since the test before [pH].
        self.rows: list[tuple[int, float, float]] = []
        self.drifted = 0.0  # pH by which it went on drifting since the last test, as far as that can be told
        self.carried = 0.0  # the same between the last test and the one before
        self.crept = 0.0  # pH by which the level of the days has moved since the last test

    def forget(self) -> None:
        """The probe has been calibrated: begin anew."""
        self.rows.clear()
        self.drifted = self.carried = self.crept = 0.0

    def forget_since(self, at: int) -> None:
        """The probe has stood still since `at` [ms]: what was compared with that says nothing of its error."""
        self.rows = [row for row in self.rows if row[0] < at]

    def push(self, at: int, difference: float) -> None:
        """Take one comparison: probe less hand test [pH], at `at` [ms]."""
        if self.rows and at - self.rows[-1][0] < APART_MS:
            self.crept += self.rows.pop()[2]
        else:
            self.carried = self.drifted
        self.rows.append((at, difference, self.crept))
        self.drifted = self.crept = 0.0
        del self.rows[:-REMEMBERED]

    def amend(self, at: int, difference: float | None) -> None:
        """The test of `at` [ms] was corrected, to another difference or to none."""
        rows = [(moment, was if moment != at else difference, crept) for moment, was, crept in self.rows]
        self.rows = [(moment, now, crept) for moment, now, crept in rows if now is not None]

    def difference(self, at: int) -> float | None:
        """How far the probe stands from the tests [pH]; None where it is borne out.

        The newest where it alone accuses; else the smaller of two, the earlier one with what the probe went on drifting
        until the later.
        """
        if not self.rows:  # most probes, each minute
            return None
        rows = [difference for _, difference, _ in self._recent(at)]
        if not rows or abs(rows[-1]) <= AGREES:
            return None
        twice = len(rows) > 1 and abs(rows[-2]) > AGREES and rows[-1] * rows[-2] > 0
        both = min(abs(rows[-1]), abs(rows[-2]) + self.carried) if twice else 0.0
        if both <= ACCUSES_ALONE and (abs(rows[-1]) > ACCUSES_ALONE or self._crept_away(at)):
            return rows[-1]
        return copysign(both, rows[-1]) if twice else None

    def _recent(self, at: int) -> list[tuple[int, float, float]]:
        return [row for row in self.rows if at - row[0] <= STALE_MS]

    def _crept_away(self, at: int) -> bool:
        """Whether the days of the probe have crept by as much as the last test says more than the one before."""
        if len(self._recent(at)) < 2:
            return False
        (_, before, _), (_, last, crept) = self.rows[-2:]
        grown = last - before
        return abs(grown) > AGREES and crept * grown > 0 and abs(crept) >= CREPT * abs(grown)

    def error(self, at: int) -> float:
        """The part of the difference that is certain [pH]; limits are judged less this. 0.0 where borne out."""
        difference = self.difference(at)
        if difference is None:
            return 0.0
        uncertain = UNCERTAIN_CREPT if self._crept_away(at) else UNCERTAIN
        return (max(abs(difference) - uncertain, 0.0) + self.drifted) * (1 if difference > 0 else -1)

    def too_far(self, at: int) -> bool:
        """Whether the error is beyond what any record is corrected by: no limit can be judged less so much."""
        return abs(self.error(at)) > LIMIT

    def undone_by(self, at: int, step: float) -> bool:
        """Whether a step of the probe [pH] takes away what the tests found: somebody has seen to it."""
        difference = self.difference(at)
        if difference is None or step * difference >= 0:
            return False
        error = abs(difference) + self.drifted
        return abs(abs(step) - error) <= max(AGREES, error / 3)

    def follow(self, at: int, change: float, share: float) -> None:
        """A `share` of a day has passed, at hours at which the level changed by `change` [pH] since yesterday."""
        self.crept += change * share
        pace = self._pace(at)
        self.drifted += min(max(change if pace > 0 else -change, 0.0), OF_PACE * abs(pace)) * share

    def _pace(self, at: int) -> float:
        """pH a day by which the error grew between the last tests; 0.0 where they accuse nobody or it did not grow."""
        difference = self.difference(at)
        if difference is None or at - self.rows[-1][0] > PACE_HOLDS_MS:
            return 0.0
        newest, last, _ = self.rows[-1]
        for moment, earlier, _ in reversed(self.rows):
            if newest - moment >= PACE_OVER_MS:
                pace = (last - earlier) / (newest - moment) * DAY_MS
                return max(-MOST_PACE, min(MOST_PACE, pace)) if pace * difference > 0 else 0.0
        return 0.0
