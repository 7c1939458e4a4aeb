"""What tests of KH by hand say of a course of the buffer: how well they agree with it, and on which alkalinity.

A kit counts drops, so its reading stands for all the water between the last drop and the one before; the eye that
judges the colour blurs both ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import erf, exp, hypot, log, sqrt
from typing import Final, TypeAlias

from dawnline.water.units import meq_l_from_dkh

Bounds: TypeAlias = tuple[float, float]
"""Between which alkalinities [meq/L] a test found the water."""

BLUR: Final = 0.15  # of a kit's step; common sense, no source
DISAGREES: Final = -12.0  # log of the odds that a test was done or noted wrongly
_POINTS: Final = 12
_WIDEST: Final = log(140.0)  # alkalinity is taken for anything from 0.04 to 5.6 meq/L, each size as likely
_LEAST: Final = 1e-3  # meq/L


STEPS: Final = (1.0, 0.5, 0.25)  # dKH, of the kits there are; common practice, no source


def bounds(read_dkh: float, step_dkh: float) -> Bounds:
    """Between which alkalinities KH lay: kits count drops, so a reading n means from n less a step to n.

    >>> [round(bound / 0.35665, 2) for bound in bounds(3.0, 1.0)]
    [2.0, 3.0]
    """
    high = max(read_dkh, step_dkh)
    return meq_l_from_dkh(high - step_dkh), meq_l_from_dkh(high)


def finest_step(read_dkh: Sequence[float]) -> float:
    """The step of the kit that gave these readings [dKH]: the coarsest of which all are multiples.

    >>> finest_step([3.0, 2.0]), finest_step([3.0, 2.25])
    (1.0, 0.25)
    """
    return next((step for step in STEPS if all(read % step == 0 for read in read_dkh)), STEPS[-1])


def normal(z: float) -> float:
    """The share of a normal distribution below `z`."""
    return 0.5 * (1.0 + erf(z / sqrt(2.0)))


def agreement(alkalinity: float, test: Bounds, gap: float = 0.0) -> float:
    """Log of the odds of a test at this alkalinity [meq/L], known itself only to a share `gap` of it."""
    low, high = test
    blur = hypot(BLUR * (high - low), 0.4 * gap * alkalinity)
    odds = normal((high - alkalinity) / blur) - normal((low - alkalinity) / blur)
    return max(log(odds), DISAGREES) if odds > 0.0 else DISAGREES


def present_by_tests(shares: Sequence[float], tests: Sequence[Bounds]) -> tuple[float, float]:
    """Log of the odds of all tests, and the alkalinity now [meq/L] that they speak for.

    `shares` are the alkalinities at the tests as shares of the present one.

    >>> agreed, present = present_by_tests([2.0, 1.0], [(0.8, 1.0), (0.4, 0.5)])
    >>> round(present, 2)
    0.45
    """
    slack = [3.0 * BLUR * (high - low) for low, high in tests]
    rows = list(zip(shares, tests, slack, strict=True))
    low = max(_LEAST, *((bound[0] - more) / share for share, bound, more in rows))
    high = min((bound[1] + more) / share for share, bound, more in rows)
    if low >= high:
        newest = tests[0]
        return DISAGREES, max((newest[0] + newest[1]) / 2.0 / shares[0], _LEAST)
    width = log(high / low) / _POINTS
    tried = [low * exp(width * (n + 0.5)) for n in range(_POINTS)]
    odds = [exp(sum(agreement(share * value, bound) for share, bound, _ in rows)) for value in tried]
    total = sum(odds)
    return log(total * width / _WIDEST), sum(o * value for o, value in zip(odds, tried, strict=True)) / total
