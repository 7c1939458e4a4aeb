"""How well the day could be named at best: by one that knows the pond and lacks only what a probe cannot tell.

It is given every true alkalinity, before and after, as a course whose pace alone it does not know, and how each dawn
low so far lay beside it for any other reason (warmth, clouds, breath). It has to find the pace, the pond's level, and
the probe's wander, of which it knows the size and that it was nothing at the beginning, from the dawn lows that the
probe showed and from looks into a buffer solution. All paces are weighed; the day is the one with most of the odds
within a day of it.
No watch can be expected to be better, but for luck: what is missing from here to every pond is what the probe hides.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import exp, inf, log, log10, sqrt
from statistics import NormalDist, fmean
from typing import NamedTuple

from buffer_told import LIMIT, Truth
from world import DAY_MS

WANDER = 0.02  # pH per root day, as the probes of both models have it
NOISE = 0.01  # pH, of a dawn low shown
PACES = tuple(0.05 * 1.06**n for n in range(100))  # of the true one
FIRST_SD = 0.03  # pH, of the wander by the first dawn low, two days after all was right
LEVEL_SD = 2.0
USUAL = 5  # nights whose mean stands for those to come
FARTHEST = 30
LEAST = 1e-6  # meq/L
_LEVELS = tuple(NormalDist().inv_cdf((n + 0.5) / 9) for n in range(9))


Seen = tuple[int, float]


class Shown(NamedTuple):
    """A dawn low as the probe showed it [pH]."""

    at: int
    low: float


def day(nights: Sequence[Truth], shown: Mapping[date, Shown], checks: Sequence[Seen], today: date) -> int | None:
    """In how many days the dawn low passes the limit; None before it can be told. `nights` end with the true day."""
    known = [night for night in nights if night.on <= today and night.on in shown]
    if len(known) < 2:
        return None
    now, ahead = known[-1].alkalinity, [night.alkalinity for night in nights if night.on > today]
    beside = [night.low - log10(max(night.alkalinity, LEAST)) for night in known]
    usual = fmean(beside[-USUAL:])
    past = [check for check in checks if check[0] <= known[-1].at]
    rows: list[tuple[float, list[float]]] = []
    for pace in PACES:
        shares = [1.0 - pace * (1.0 - night.alkalinity / now) for night in known]
        if min(shares) <= 0.0:
            continue
        lows = [shown[night.on] for night in known]
        off = [low.low - log10(s) - b for low, s, b in zip(lows, shares, beside, strict=True)]
        likely, level, sd = _level(off, [low.at for low in lows], past)
        # Paces as even in size as in order: halfway between two ignorances.
        rows.append((likely + 0.5 * log(pace), _odds(pace, now, ahead, level + usual, sd)))
    top = max(likely for likely, _ in rows)
    odds = [sum(exp(likely - top) * row[n] for likely, row in rows) for n in range(FARTHEST + 2)]
    return max(range(1, FARTHEST + 1), key=lambda n: odds[n - 1] + 1.2 * odds[n] + odds[n + 1])


def _level(off: Sequence[float], at: Sequence[int], checks: Sequence[Seen]) -> tuple[float, float, float]:
    """Log likelihood, level and its sd: a Kalman filter of a constant and of a walk that checks show by itself."""
    level, wander = 0.0, 0.0
    cc, cw, ww = LEVEL_SD**2, 0.0, FIRST_SD**2
    likely, before = 0.0, at[0]
    lows = [(now, value, 1.0) for now, value in zip(at, off, strict=True)]
    for now, value, of_level in sorted(lows + [(now, value, 0.0) for now, value in checks]):
        ww += WANDER**2 * max(0, now - before) / DAY_MS
        before = now
        c, w = of_level * cc + cw, of_level * cw + ww
        s, v = of_level * c + w + NOISE**2, value - of_level * level - wander
        level, wander = level + c / s * v, wander + w / s * v
        cc, cw, ww = cc - c * c / s, cw - c * w / s, ww - w * w / s
        likely -= 0.5 * (v * v / s + log(s))
    return likely, level, sqrt(max(cc, 0.0))


def _odds(pace: float, now: float, ahead: Sequence[float], level: float, sd: float) -> list[float]:
    """Odds that the limit is passed on day n; beyond the true course it goes on as over its last days."""
    course = list(ahead)
    use = (now - course[-1]) / len(course)
    course += [course[-1] - use * n for n in range(1, FARTHEST + 2 - len(course))]
    shares = [1.0 - pace * (1.0 - alkalinity / now) for alkalinity in course]
    lows = [log10(share) if share > 0.0 else -inf for share in shares]
    odds = [0.0] * (FARTHEST + 2)
    for z in _LEVELS:
        first = next((n for n, low in enumerate(lows) if low + level + z * sd < LIMIT), FARTHEST)
        odds[first + 1] += 1.0 / len(_LEVELS)
    return odds
