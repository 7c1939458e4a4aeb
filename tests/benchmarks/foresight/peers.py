"""What the alarms are set beside, on the same readings: a limit, a rate of change, a change detector.

All three see the median of the last five readings, so that a spike alone wakes nobody. The thresholds were chosen
on the development seeds (`--tune`) for the largest share of nights warned less false wakes per pond-week, and frozen.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
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
RATES = tuple((hours, fall) for hours in (1, 3) for fall in (0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7))
HINKLEYS = tuple((delta, limit) for delta in (0.005, 0.05, 0.1) for limit in (5.0, 10.0, 20.0, 40.0, 80.0, 160.0))
# Chosen on seeds 1 on, 20 nights and 20 calm ponds of each model, both models together.
RATE = (1, 0.4)  # hours, pH
NERVOUS_RATE = (1, 0.25)  # nearly as good a bargain: more nights warned, some false wakes
HINKLEY = (0.1, 80.0)  # river's delta and threshold, in pH and steps of five minutes


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


def limit(rows: Iterable[Row]) -> list[int]:
    """Times at which pH has been below 6.5 for ten minutes."""
    found: list[int] = []
    since: int | None = None
    for at, value in smooth(rows):
        if value >= LIMIT:
            since = None
        else:
            since = at if since is None else since
            if at - since >= ON_DELAY_MS:
                _wake(found, at)
    return found


def rate(rows: list[Row], hours: int, fall: float) -> list[int]:
    """Times at which pH is lower by `fall` than `hours` ago; rows of the grid."""
    steps = hours * HOUR_MS // GRID_MS
    found: list[int] = []
    for index in range(steps, len(rows)):
        if rows[index - steps][1] - rows[index][1] > fall:
            _wake(found, rows[index][0])
    return found


def hinkley(rows: list[Row], delta: float, threshold: float) -> list[int]:
    """Times at which a Page-Hinkley test (Page 1954, Biometrika 41, 100; river's) finds the mean falling."""
    detector = PageHinkley(min_instances=30, delta=delta, threshold=threshold, mode="down")
    found: list[int] = []
    for at, value in rows:
        detector.update(value)
        if detector.drift_detected:
            _wake(found, at)
    return found


def _wake(found: list[int], at: int) -> None:
    if not found or at - found[-1] >= QUIET_MS:
        found.append(at)


def peers(rows: list[Row]) -> dict[str, list[int]]:
    """Wakes of each, with its frozen threshold."""
    five = grid(rows)
    found = {"limit 6.5, 10 min": limit(rows)}
    found |= {f"rate: {fall} in {hours} h": rate(five, hours, fall) for hours, fall in (RATE, NERVOUS_RATE)}
    return found | ({"Page-Hinkley": hinkley(five, *HINKLEY)} if PageHinkley else {})


def candidates(rows: list[Row]) -> dict[str, list[int]]:
    """Wakes for every threshold tried."""
    five = grid(rows)
    found = {f"rate {r}": rate(five, *r) for r in RATES}
    if PageHinkley is None:
        return found
    return found | {f"Page-Hinkley {h}": hinkley(five, *h) for h in HINKLEYS}
