"""Courses the buffer may take: alkalinity as a share of the present one, through known acts, backward and forward.

Nitrification, acid rain and decay use alkalinity at a steady rate, faster in warm water and slower where pH is low: by
warm days, that is days weighted with q^((T - 20)/10) and with the filter's zeal at the pH of the time, it falls on a
straight line to zero. q is 2 where the filter bed sets the rate and 1 where the feed does; 1.4 lies between. Where
shell dissolves faster as pH falls, the line bends toward a floor instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp, inf, log10
from typing import Final, NamedTuple

RATE_PER_10_C: Final = 1.4
HALF_PH: Final = 5.9  # where the filter works at half its speed
SMALLEST: Final = 1e-9

NIGHT, TEST, DILUTED, ADDED, TIMES, FED = range(6)


def warm_days(days: float, water_c: float | None) -> float:
    """Days weighted by how fast life goes at `water_c` [degC]; unweighted where that is not known.

    >>> warm_days(2.0, 30.0)
    2.8
    """
    return days if water_c is None else days * RATE_PER_10_C ** ((water_c - 20.0) / 10.0)


def zeal(ph: float) -> float:
    """How fast the filter works at a dawn low, 1 at best.

    Common practice says that nitrification slows below about pH 6.8; how much differs from filter to filter, the more
    so since ammonia that is left over makes up for a part. The curve is ours.

    >>> [round(zeal(ph), 2) for ph in (7.5, 6.8, 6.5)]
    [0.98, 0.89, 0.8]
    """
    return float(1.0 / (1.0 + 10.0 ** (HALF_PH - ph)))


class Course(NamedTuple):
    """`life`: warm days to zero at the present rate; negative where alkalinity rises, `inf` where it stands still.

    `floor` is the share of the present alkalinity toward which it bends, 0 for a straight line.
    """

    life: float
    floor: float = 0.0

    def after(self, share: float, days: float) -> float:
        """The share `days` warm days after it was `share`, by one step of the rate at its beginning."""
        return share - days / self.life * ((share - self.floor) / (1.0 - self.floor) if self.floor else 1.0)

    def share(self, days: float) -> float:
        """Alkalinity `days` warm days from now (before now: negative) as a share of the present one."""
        if self.floor:
            return self.floor + (1.0 - self.floor) * exp(-days / (self.life * (1.0 - self.floor)))
        return 1.0 - days / self.life


class Mark(NamedTuple):
    """One entry of the record, `days` warm days before the next later one (or before now).

    DILUTED: `amount` is the share exchanged, `source` [meq/L]. ADDED: `amount` [meq/L]. TIMES: multiplied by `amount`.
    FED: the rate before it was `amount` times the rate after it.
    """

    kind: int
    days: float
    amount: float = 0.0
    source: float = 0.0


def trace(course: Course, marks: Iterable[Mark], present: float) -> tuple[list[float], list[float]] | None:
    """log10 of the share at each NIGHT and the share at each TEST; `marks` and both answers run backward in time.

    `present` is the alkalinity now [meq/L]. None where the course contradicts an act (less than nothing before it).
    """
    life, floor = course
    share, pace = 1.0, 1.0
    nights: list[float] = []
    tests: list[float] = []
    slope = 0.0 if life == inf else 1.0 / life
    for kind, days, amount, source in marks:
        if floor:
            share = floor + (share - floor) * exp(min(days * pace * slope / (1.0 - floor), 50.0))
        else:
            share += days * pace * slope
        if share < SMALLEST:
            return None
        if kind == NIGHT:
            nights.append(log10(share))
        elif kind == TEST:
            tests.append(share)
        elif kind == DILUTED:
            share = (share - amount * source / present) / (1.0 - amount)
        elif kind == ADDED:
            share -= amount / present
        elif kind == TIMES:
            share /= amount
        else:
            pace *= amount
        if share < SMALLEST:
            return None
    return nights, tests


def needs_scale(marks: Sequence[Mark]) -> bool:
    """Whether an act among these is known in meq/L, so that the course depends on the alkalinity itself."""
    return any(mark.kind in (DILUTED, ADDED) for mark in marks)
