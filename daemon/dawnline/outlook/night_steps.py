"""Regressions of what changes from night to night: how far the low follows the evening, learned on this water.

In a pond that a windy or dull day leaves high the dawn low follows the evening's pH hardly at all, in another it
follows it whole. Two regressions explain the change of the low since the night before by the change of the pH at this
hour, and one of

- how much more than usual the last night still lost from this hour on,
- the change of how far the pH has fallen of late,

by least squares in which old nights fade, drawn to what is to be expected at this hour (ridge regression, Hoerl and
Kennard 1970): early in the night the low follows the evening little, towards dawn nearly whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from typing import Final

from dawnline.outlook.night import EVENING

HALF_LIFE: Final = 12.0  # nights
FADING: Final[float] = exp(-log(2.0) / HALF_LIFE)  # from night to night
USUAL: Final = 0.15  # of each night's loss, in what is usual
PRIOR_NIGHTS: Final = 1.5  # as many speak for what is to be expected
ALIKE_PH: Final = 0.02  # pH; nights that differ by less say little
# How far the low is expected to follow the pH of this hour. Set on simulated ponds and public records; no source.
FOLLOWS_AT_SUNSET: Final = 0.2
FOLLOWS_MORE: Final = 0.055  # a phase
FOLLOWS_MOST: Final = 0.95


def follows(phase: float) -> float:
    """The share of a difference at this phase that is expected to last until dawn.

    >>> follows(3.0), round(follows(12.0), 3), follows(24.0)
    (0.2, 0.695, 0.95)
    """
    return min(FOLLOWS_AT_SUNSET + FOLLOWS_MORE * max(phase - EVENING, 0.0), FOLLOWS_MOST)


def by_steps(
    values: Sequence[float], lows: Sequence[float], falls: Sequence[float | None], share: float
) -> list[float]:
    """What the two regressions say of the coming low [pH].

    `values` are the pH at this hour and `falls` how far it had fallen of late [pH], of each night, tonight's last;
    `lows` those of the nights before. `share` is how far the low is expected to follow, until learned.

    >>> [round(low, 2) for low in by_steps([7.4, 7.6, 7.4, 7.6, 7.4, 7.6], [7.0, 7.1, 7.0, 7.1, 7.0], [None] * 6, 0.5)]
    [7.1, 7.1]
    """
    *known, tonight = _changes(values, lows, falls)
    aa = ab = ac = bb = cc = 0.0  # sums of products of the first change and of the others, and of each with the low's
    al = bl = cl = total = 0.0
    weight = 1.0
    for i in range(len(known) - 1, -1, -1):
        (a, b, c), step = known[i], lows[i + 1] - lows[i]
        wa, wb, wc = weight * a, weight * b, weight * c
        aa, ab, ac, al = aa + wa * a, ab + wa * b, ac + wa * c, al + wa * step
        bb, bl = bb + wb * b, bl + wb * step
        cc, cl = cc + wc * c, cl + wc * step
        total += weight
        weight *= FADING
    first = _drawn(aa, al, share, total)
    said = []
    for both, second, other in ((ab, _drawn(bb, bl, share, total), 1), (ac, _drawn(cc, cl, 0.0, total), 2)):
        whole = first[0] * second[0] - both * both
        slope = (first[1] * second[0] - second[1] * both) / whole
        beside = (second[1] * first[0] - first[1] * both) / whole
        said.append(lows[-1] + slope * tonight[0] + beside * tonight[other])
    return said


def _drawn(moment: float, together: float, expected: float, total: float) -> tuple[float, float]:
    """Sums of squares and of products with the low's change, with the nights that speak for an `expected` slope."""
    prior = PRIOR_NIGHTS * (moment / total + ALIKE_PH**2)
    return moment + prior, together + prior * expected


def _changes(
    values: Sequence[float], lows: Sequence[float], falls: Sequence[float | None]
) -> list[tuple[float, float, float]]:
    """The three changes, of each night but the first."""
    found = []
    usual = values[0] - lows[0]
    for i in range(1, len(values)):
        lost = values[i - 1] - lows[i - 1]
        usual += USUAL * (lost - usual)
        here, before = falls[i], falls[i - 1]
        found.append(
            (values[i] - values[i - 1], lost - usual, 0.0 if here is None or before is None else here - before)
        )
    return found
