"""How many abnormal nights could be warned of at best, and how long before: by one that knows the night but its size.

It is told what befalls the pond and when, and the courses the pond would have taken otherwise and takes at the size
that befell it. It does not know the size, nor whether anything befell at all, nor how far the probe has wandered since
it was last set right. Every ten minutes it weighs all sizes, and how likely each is to pass 6.5, against nothing at
all. It warns where that ratio is beyond what it reached on a stated share of the same ponds' nights on which nothing
befell, seen by the same probe. A watch that learns its pond from the probe cannot be expected to be better.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from math import exp, log, sqrt
from statistics import NormalDist, fmean, median
from typing import Any, NamedTuple

from world import DAY_MS, HOUR_MS, MINUTE_MS

from dawnline.water.constants import first_dissociation, second_dissociation

BLOCK_MS = 10 * MINUTE_MS
BEFORE_MS = 3 * HOUR_MS  # of the evening before, by which the probe's level is known
WANDER = 0.02  # pH per root day, as the probes of both models have it
NOISE = 0.01  # pH, of a block shown
LIMIT = 6.5
SIZES = (0.0, *(0.1 * 1.12**n for n in range(29)))  # times the size that befell: nothing, and 0.1 to 2.4
K1, K2 = first_dissociation(17.0), second_dissociation(17.0)
_NORMAL = NormalDist()


class Seen(NamedTuple):
    """One night, by blocks from BEFORE_MS before the onset: the log of the ratio after each of them."""

    ratios: list[float]
    onset: int  # block
    passes: int | None  # block


def ratios(truth: dict[str, Any]) -> tuple[Seen, Seen]:
    """The night that came and the one on which nothing befell, from what `nights_told` keeps of both."""
    onset, step = truth["onset"], truth["step"]
    true, calm, shown = (_blocks(truth[name], step) for name in ("true", "calm", "shown"))
    # What the probe adds, whatever the water does.
    added = [s - t for s, t in zip(shown, true, strict=True)]
    days = (onset - truth["begin"]) / DAY_MS
    courses = [_course(calm, true, size) for size in SIZES]
    begin = BEFORE_MS // BLOCK_MS
    passes = (truth["passes"] - onset) // BLOCK_MS + begin
    came = Seen(_weigh(shown, courses, days), begin, passes)
    nothing = [c + a for c, a in zip(calm, added, strict=True)]
    low = next((n for n, ph in enumerate(calm) if n >= begin and ph < LIMIT), None)
    return came, Seen(_weigh(nothing, courses, days), begin, low)


def lead_h(seen: Seen, least: float) -> float | None:
    """Hours from the first block with such a ratio to the passing; None where there is none before it."""
    assert seen.passes is not None
    first = next((n for n in range(seen.onset, seen.passes + 1) if seen.ratios[n] >= least), None)
    return None if first is None else (seen.passes - first) * BLOCK_MS / HOUR_MS


def threshold(nothing: Sequence[Seen], share: float) -> float:
    """The least ratio at which no more than `share` of the nights without anything would wake."""
    quiet = sorted((max(seen.ratios[seen.onset :]) for seen in nothing if seen.passes is None), reverse=True)
    return quiet[int(share * len(quiet))] + 1e-9 if quiet else 0.0


def _blocks(values: array[float], step: int) -> list[float]:
    each = BLOCK_MS // step
    return [median(values[n : n + each]) for n in range(0, len(values) - each + 1, each)]


def _course(calm: Sequence[float], true: Sequence[float], size: float) -> list[float]:
    """The pH where the inorganic carbon per alkalinity gained beyond the calm course is `size` times as much."""
    return [_ph(_carbon(c) + size * (_carbon(t) - _carbon(c))) for c, t in zip(calm, true, strict=True)]


def _carbon(ph: float) -> float:
    y = 10.0**-ph
    return (1.0 + y / K1 + K2 / y) / (1.0 + 2.0 * K2 / y)


def _ph(carbon: float) -> float:
    u = max(carbon, 0.5001)
    return -log(K1 / 2.0 * ((u - 1.0) + sqrt((1.0 - u) ** 2 - 4.0 * K2 * (1.0 - 2.0 * u) / K1))) / log(10.0)


def _weigh(shown: Sequence[float], courses: Sequence[Sequence[float]], days: float) -> list[float]:
    """After each block: a Kalman filter of the level beside each course, the courses weighed by how they fit."""
    begin = BEFORE_MS // BLOCK_MS
    lows = [min(course[begin:]) for course in courses]
    likely, levels, variance = [0.0] * len(courses), [0.0] * len(courses), 4.0
    out = []
    for n, value in enumerate(shown):
        variance += WANDER**2 * BLOCK_MS / DAY_MS
        total = variance + NOISE**2
        gain = variance / total
        for i, course in enumerate(courses):
            off = value - course[n] - levels[i]
            levels[i] += gain * off
            likely[i] -= 0.5 * min(off * off / total, 9.0)  # a spike is no proof
        variance *= 1.0 - gain
        top, sd = max(likely), sqrt(WANDER**2 * (days + n * BLOCK_MS / DAY_MS) + variance)
        below = [_NORMAL.cdf((LIMIT - low - level) / sd) for low, level in zip(lows, levels, strict=True)]
        passing = fmean(exp(fit - top) * odd for fit, odd in zip(likely[1:], below[1:], strict=True))
        out.append(log(max(passing, 1e-300)) + top - likely[0])
    return out
