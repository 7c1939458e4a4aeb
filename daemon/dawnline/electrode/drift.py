"""Fouling and calibration drift between two visits, spread linearly in time, and the grade of the record.

After Wagner, Boulger, Oblinger and Smith (2006), Guidelines and Standard Procedures for Continuous Water-Quality
Monitors, U.S. Geological Survey Techniques and Methods 1-D3. Fouling is applied first, to the reading; calibration
drift second, looked up on the reading corrected for fouling. The measured record is never altered: this is a second
layer, which can be computed anew. pH units, times in ms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise
from typing import Final, NamedTuple, TypeAlias

Errors: TypeAlias = tuple[tuple[float, float], ...]
"""Pairs of what the probe showed in a standard and the correction found there, rising; one pair holds everywhere."""

LIMIT: Final = 2.0  # pH: beyond the maximum allowable limit nothing is corrected (TM 1-D3, table 18)
# Table 18, as coded in PatrickEslick/correctionMagnitude ("Apply grades based on TM-1D3").
FAIR_TO: Final = 0.8  # pH: a record corrected by more is poor (as above)
_BOUNDS: Final = (0.2, 0.5, FAIR_TO, LIMIT)


class Grade(IntEnum):
    """How good the record is, by the sum of the absolute corrections; a span of time is as good as its worst."""

    EXCELLENT = 0
    GOOD = 1
    FAIR = 2
    POOR = 3
    BEYOND = 4  # the maximum allowable limit is passed: the record is flagged, not corrected

    @property
    def label(self) -> str:
        """In words."""
        return "beyond correction" if self is Grade.BEYOND else self.name.lower()


def grade(magnitude: float) -> Grade:
    """The grade for a sum of absolute corrections [pH].

    The sum is rounded to 0.01 first, the resolution of the readings: 0.204 is excellent, 0.205 is good.
    """
    rounded = round(magnitude + 1e-9, 2)
    return Grade(sum(rounded > bound + 1e-9 for bound in _BOUNDS))


class Corrected(NamedTuple):
    """One reading with its corrections; `value` is None beyond the limit."""

    value: float | None
    fouling: float
    drift: float

    @property
    def magnitude(self) -> float:
        """The sum of the absolute corrections."""
        return abs(self.fouling) + abs(self.drift)

    @property
    def grade(self) -> Grade:
        """Its grade."""
        return grade(self.magnitude)


def fouling_error(
    before: float, after: float, meter_before: float | None = None, meter_after: float | None = None
) -> float:
    """E_f = (after - before) - (meter_after - meter_before): what cleaning changed, less what the water did itself.

    `before` and `after` are the probe's readings in the pond around cleaning, the others an independent meter's at
    the same moments; without a meter the water is taken to have stood still.
    """
    moved = meter_after - meter_before if meter_before is not None and meter_after is not None else 0.0
    return (after - before) - moved


def drift_error(standard: float, cleaned: float) -> float:
    """E_d: the standard's value less what the cleaned probe read in it."""
    return standard - cleaned


@dataclass(frozen=True, slots=True)
class Visits:
    """What was found between two visits: from nothing (or `left`, what the first left behind) at `start` to all at
    `end`.
    """

    start: int
    end: int
    fouling: float = 0.0
    drift: Errors = ()
    left: Errors = ()

    def correct(self, at: int, reading: float) -> Corrected:
        """The correction of a reading at `at`; none outside the visits, the full one just at the second."""
        if not self.start <= at <= self.end or self.end == self.start:
            return Corrected(reading, 0.0, 0.0)
        share = (at - self.start) / (self.end - self.start)
        fouling = share * self.fouling
        cleaned = reading + fouling
        drift = (1.0 - share) * lookup(self.left, cleaned) + share * lookup(self.drift, cleaned)
        found = Corrected(cleaned + drift, fouling, drift)
        return found._replace(value=None) if found.grade is Grade.BEYOND else found


def lookup(errors: Sequence[tuple[float, float]], reading: float) -> float:
    """The correction at a reading: linear between the standards, held outside them; 0 where there are none.

    >>> lookup(((7.0, -0.1), (10.0, -0.4)), 8.2)
    -0.22
    """
    if not errors:
        return 0.0
    if reading <= errors[0][0]:
        return errors[0][1]
    for (x0, e0), (x1, e1) in pairwise(errors):
        if reading < x1:
            return round(e0 + (e1 - e0) * (reading - x0) / (x1 - x0), 12)
    return errors[-1][1]
