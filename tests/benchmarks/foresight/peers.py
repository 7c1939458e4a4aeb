"""What the alarms are set beside, on the same readings: a limit, a rate of change, a change detector, at many settings.

All three see the median of the last five readings, so that a spike alone wakes nobody. Each gives the times at which
its condition is met; who is met again within six hours is woken once.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from statistics import median

from world import HOUR_MS, MINUTE_MS

try:
    from river.drift import PageHinkley
except ImportError:  # a general library of streaming statistics; without it that peer is left out
    PageHinkley = None

Row = tuple[int, float]
LIMIT, ON_DELAY_MS = 6.5, 10 * MINUTE_MS
GRID_MS = 5 * MINUTE_MS
QUIET_MS = 6 * HOUR_MS  # one incident is one wake
LIMITS = (*(round(LIMIT + 0.02 * n, 2) for n in range(16)), 6.9, 7.0, 7.1, 7.2, 7.3)  # pH
RATES = tuple((hours, fall) for hours in (1, 3, 6) for fall in (0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7, 1.0, 1.4))
HINKLEYS = tuple((delta, limit) for delta in (0.05, 0.1, 0.2) for limit in (5.0, 10.0, 20.0, 40.0, 80.0, 160.0))
FAMILIES = ("limit", "rate", "Page-Hinkley")
PLAIN = f"limit {LIMIT:g}"


def smooth(rows: Iterable[Row]) -> Iterator[Row]:
    """The median of the last five readings."""
    last: deque[float] = deque(maxlen=5)
    for at, value in rows:
        last.append(value)
        yield at, median(last)


def grid(rows: Iterable[Row]) -> list[Row]:
    """Smoothed, one row every five minutes."""
    out: list[Row] = []
    for at, value in smooth(rows):
        if not out or at >= out[-1][0] + GRID_MS:
            out.append((at, value))
    return out


def limit(rows: Iterable[Row], least: float = LIMIT) -> list[int]:
    """Times at which pH has been below `least` for ten minutes; rows smoothed."""
    found: list[int] = []
    since: int | None = None
    for at, value in rows:
        if value >= least:
            since = None
        else:
            since = at if since is None else since
            if at - since >= ON_DELAY_MS:
                found.append(at)
    return found


def rate(rows: list[Row], hours: int, fall: float) -> list[int]:
    """Times at which pH is lower by `fall` than `hours` ago; rows of the grid."""
    steps = hours * HOUR_MS // GRID_MS
    return [at for (at, value), (_, before) in zip(rows[steps:], rows, strict=False) if before - value > fall]


def hinkley(rows: list[Row], delta: float, threshold: float) -> list[int]:
    """Times at which a Page-Hinkley test (Page 1954, Biometrika 41, 100; river's) finds the mean falling."""
    detector = PageHinkley(min_instances=30, delta=delta, threshold=threshold, mode="down")
    found: list[int] = []
    for at, value in rows:
        detector.update(value)
        if detector.drift_detected:
            found.append(at)
    return found


def wakes(times: Iterable[int]) -> list[int]:
    """The times somebody is woken: where the condition was not met for six hours before.

    >>> wakes([0, HOUR_MS, 6 * HOUR_MS, 13 * HOUR_MS])
    [0, 46800000]
    """
    found: list[int] = []
    last: int | None = None
    for at in times:
        if last is None or at - last >= QUIET_MS:
            found.append(at)
        last = at
    return found


def candidates(rows: Sequence[Row]) -> dict[str, list[int]]:
    """The times at which each is met, at every setting; a name begins with its family."""
    smoothed, five = list(smooth(rows)), grid(rows)
    found = {f"limit {least:g}": limit(smoothed, least) for least in LIMITS}
    found |= {f"rate {fall:g} in {hours} h": rate(five, hours, fall) for hours, fall in RATES}
    if PageHinkley is None:
        return found
    return found | {f"Page-Hinkley {delta:g}, {most:g}": hinkley(five, delta, most) for delta, most in HINKLEYS}
