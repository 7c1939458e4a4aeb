"""Simple rules for the coming dawn low, each right on some waters; `Tonight` learns which of them this water obeys.

Each rule takes the present pH, and of each earlier night, oldest first, its pH at the same phase and its low.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from statistics import median
from typing import Final

from dawnline.outlook.carbon import carbon_of, ph_of

RECENT: Final = 10  # nights a median is taken of
HALF_LIFE: Final = 6.0  # nights after which a night counts half in a regression
FADING: Final[float] = exp(-log(2.0) / HALF_LIFE)  # from night to night
PRIOR_SLOPE: Final = 0.7  # share of tonight's difference that lasts until dawn, until learned
PRIOR_PH: Final = 0.02  # pH: with a spread of this much at this hour data and prior count alike
STEEPEST: Final = 1.1

RULES: Final = ("last", "drop", "half", "line", "change", "late", "half-late", "carbon")


def forecasts(now: float, earlier: Sequence[float], lows: Sequence[float]) -> tuple[float, ...]:
    """What each of `RULES` says of the coming low [pH]; three earlier nights at least.

    - last: as last night. drop: the present less the median of what ten nights still lost. half: their mean.
    - line: weighted regression of the low on the pH at this hour. change: the same, of night-to-night changes.
    - late, half-late: as drop and half, of the last three nights. carbon: as drop, counted in inorganic carbon.

    >>> [round(f, 2) for f in forecasts(7.3, [7.4, 7.5, 7.4], [7.0, 7.1, 7.0])]
    [7.0, 6.9, 6.95, 6.9, 6.9, 6.9, 6.95, 6.96]
    """
    last = lows[-1]
    lost = [v - low for v, low in zip(earlier[-RECENT:], lows[-RECENT:], strict=True)]
    drop, late = now - median(lost), now - median(lost[-3:])
    taken = median([carbon_of(low) - carbon_of(v) for v, low in zip(earlier[-RECENT:], lows[-RECENT:], strict=True)])
    return (
        last,
        drop,
        (last + drop) / 2,
        _line(now, earlier, lows),
        _change(now, earlier, lows),
        late,
        (last + late) / 2,
        ph_of(carbon_of(now) + taken),
    )


def _line(now: float, earlier: Sequence[float], lows: Sequence[float]) -> float:
    weights = [exp(-log(2.0) * age / HALF_LIFE) for age in range(len(lows) - 1, -1, -1)]
    total = sum(weights)
    x = sum(w * v for w, v in zip(weights, earlier, strict=True)) / total
    y = sum(w * low for w, low in zip(weights, lows, strict=True)) / total
    away = [v - x for v in earlier]
    slope = _slope(
        sum(w * a * (low - y) for w, a, low in zip(weights, away, lows, strict=True)),
        sum(w * a * a for w, a in zip(weights, away, strict=True)),
        total,
    )
    return y + slope * (now - x)


def _change(now: float, earlier: Sequence[float], lows: Sequence[float]) -> float:
    together = spread = total = 0.0
    weight = 1.0
    for i in range(len(lows) - 1, 0, -1):
        weight *= FADING
        step = earlier[i] - earlier[i - 1]
        together += weight * step * (lows[i] - lows[i - 1])
        spread += weight * step * step
        total += weight
    return lows[-1] + _slope(together, spread, total) * (now - earlier[-1])


def _slope(together: float, spread: float, total: float) -> float:
    """The slope of a regression, drawn to `PRIOR_SLOPE` where the nights differ too little to tell."""
    prior = 0.3 * total * PRIOR_PH**2
    return min(max((together + prior * PRIOR_SLOPE) / (spread + prior), 0.0), STEEPEST)
