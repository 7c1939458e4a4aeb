"""Simple rules for the coming dawn low, each right on some waters; `Tonight` learns which of them this water obeys.

Each rule takes the present pH, and of each earlier night, oldest first, its pH at the same phase and its low; some also
take how far the pH has fallen of late.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log, sqrt
from statistics import median
from typing import Final

from dawnline.outlook.carbon import carbon_of, ph_of
from dawnline.outlook.night_steps import by_steps, follows

RECENT: Final = 10  # nights a median is taken of
RARE: Final = 0.15  # share of nights that lost less, and of those that lost more, than a night is taken to lose
HALF_LIFE: Final = 6.0  # nights after which a night counts half in a regression
FADING: Final[float] = exp(-log(2.0) / HALF_LIFE)  # from night to night
AGEING: Final = 0.93  # what a night counts less than the one after it, where nights are likened
LEAST_SEEN: Final = 3  # nights
PRIOR_SLOPE: Final = 0.7  # share of tonight's difference that lasts until dawn, until learned
PRIOR_PH: Final = 0.02  # pH: with a spread of this much at this hour data and prior count alike
STEEPEST: Final = 1.1

LEAST_ALIKE: Final = 0.02  # pH; nights that differ by less are alike
UNLIKE: Final = 0.001  # what the most unlike night still counts

RULES: Final = ("last", "bounded", "drop", "line", "carbon", "alike", "steps-usual", "steps-fall")


def forecasts(
    phase: float, now: float, earlier: Sequence[float], lows: Sequence[float], falls: Sequence[float | None]
) -> tuple[float, ...]:
    """What each of `RULES` says of the coming low [pH] at a phase of the night; three earlier nights at least.

    `falls` is how far the pH had fallen over the last phases in the earlier nights, and tonight's last [pH].

    - last: as last night. bounded: the same, kept to what nights still lost from this hour on, but for the rare ones.
    - drop: the present less the median of what ten nights still lost. carbon: as drop, counted in inorganic carbon.
    - line: weighted regression of the low on the pH at this hour.
    - alike: as drop, of the nights that stood and fell as this one does.
    - steps: regressions of what changes from night to night (night_steps.py).

    >>> [round(f, 2) for f in forecasts(12.0, 7.3, [7.4, 7.5, 7.4], [7.0, 7.1, 7.0], [0.1] * 4)]
    [7.0, 6.9, 6.9, 6.9, 6.96, 6.9, 6.91, 6.91]
    """
    last, (*before, fell) = lows[-1], falls
    lost = [v - low for v, low in zip(earlier, lows, strict=True)]
    ranked = sorted(lost)
    rare = round(RARE * (len(ranked) - 1))
    taken = median([carbon_of(low) - carbon_of(v) for v, low in zip(earlier[-RECENT:], lows[-RECENT:], strict=True)])
    return (
        last,
        min(max(last, now - ranked[-1 - rare]), now - ranked[rare]),
        now - median(lost[-RECENT:]),
        _line(now, earlier, lows),
        ph_of(carbon_of(now) + taken),
        now - _alike(now, fell, earlier, before, lost),
        *by_steps([*earlier, now], lows, falls, follows(phase)),
    )


def _alike(
    now: float, fell: float | None, earlier: Sequence[float], falls: Sequence[float | None], lost: Sequence[float]
) -> float:
    """Kernel regression (Nadaraya and Watson 1964) of what was still lost, on the pH and on its fall of late.

    The median of ten nights where the fall is not known.
    """
    seen = [
        (v, f, rest, AGEING**age)
        for age, (v, f, rest) in enumerate(zip(reversed(earlier), reversed(falls), reversed(lost), strict=True))
        if f is not None
    ]
    if fell is None or len(seen) < LEAST_SEEN:
        return median(lost[-RECENT:])
    level, steep = (max(LEAST_ALIKE, _deviation([row[i] for row in seen])) for i in (0, 1))
    total = together = 0.0
    for v, f, rest, weight in seen:
        alike = weight * exp(-(((now - v) / level) ** 2 + ((fell - f) / steep) ** 2) / 2) + UNLIKE
        total += alike
        together += alike * rest
    return together / total


def _deviation(values: Sequence[float]) -> float:
    mean = sum(values) / len(values)
    return sqrt(sum((v - mean) ** 2 for v in values) / len(values))


def _line(now: float, earlier: Sequence[float], lows: Sequence[float]) -> float:
    weights = [FADING**age for age in range(len(lows) - 1, -1, -1)]
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


def _slope(together: float, spread: float, total: float) -> float:
    """The slope of a regression, drawn to `PRIOR_SLOPE` where the nights differ too little to tell."""
    prior = 0.3 * total * PRIOR_PH**2
    return min(max((together + prior * PRIOR_SLOPE) / (spread + prior), 0.0), STEEPEST)
