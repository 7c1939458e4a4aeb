"""Readings of a stretch of time in figures that can be merged: how many, the lowest, the highest, the sum."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from dawnline.duration import MINUTE_MS

STEP_MS: Final = 15 * MINUTE_MS  # of the rollups the store keeps; every zone's midnight falls on such a step


class Rollup(NamedTuple):
    """The readings of one stretch that begins at `at` [ms].

    `number`, `low`, `high` and `total` are of the good ones; where there are none, `low` and `high` mean nothing.
    `flagged` counts the others.
    """

    at: int
    number: int
    low: float
    high: float
    total: float
    flagged: int = 0

    @property
    def mean(self) -> float | None:
        """The mean of the good readings."""
        return self.total / self.number if self.number else None

    def merged(self, other: Rollup) -> Rollup:
        """Both in one: of the times, the earlier.

        >>> Rollup(0, 2, 7.0, 7.2, 14.2).merged(Rollup(60, 1, 6.9, 6.9, 6.9, 3))
        Rollup(at=0, number=3, low=6.9, high=7.2, total=21.1, flagged=3)
        """
        some = [each for each in (self, other) if each.number] or [self]
        return Rollup(
            min(self.at, other.at),
            self.number + other.number,
            min(each.low for each in some),
            max(each.high for each in some),
            self.total + other.total,
            self.flagged + other.flagged,
        )


def by_step(rollups: Iterable[Rollup], start: int, step: int) -> list[Rollup]:
    """Merged into stretches of `step` ms counted from `start`; empty stretches are left out. Every extreme stays.

    >>> parts = [Rollup(at, 1, at / 10, at / 10, at / 10) for at in (10, 11, 15)]
    >>> [(each.at, each.low, each.high) for each in by_step(parts, 10, 3)]
    [(10, 1.0, 1.1), (13, 1.5, 1.5)]
    """
    found: dict[int, Rollup] = {}
    for each in rollups:
        at = start + (each.at - start) // step * step
        moved = each._replace(at=at)
        found[at] = found[at].merged(moved) if at in found else moved
    return [found[at] for at in sorted(found)]
