"""Some days in a few figures that can be set beside those of other days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from dawnline.event import Day
from dawnline.rollup import Rollup


class Extreme(NamedTuple):
    """A figure and the date it belongs to."""

    value: float
    date: str


@dataclass(frozen=True, slots=True)
class Summary:
    """One pH probe over some days; `days` are those of which something was seen. Means are over the days that have the
    figure; None where none has.

    `mean` weighs each day by what was seen of it; `coverage` is of the time that is over, days without a record
    too. Minutes are sums.
    """

    probe: str
    days: int
    lows: int
    dawn_low: float | None
    lowest: Extreme | None
    dusk_high: float | None
    highest: Extreme | None
    swing: float | None
    widest: Extreme | None
    mean: float | None
    minutes_below: float
    minutes_above: float
    coverage: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """One other probe over some days, in its own unit; each day's lowest and highest is (date, low, high, mean)."""

    probe: str
    quantity: str
    lowest: float | None
    highest: float | None
    mean: float | None
    by_day: tuple[tuple[str, float, float, float], ...]


def summary(probe: str, days: Sequence[Day], lengths: Mapping[str, int], elapsed: int) -> Summary:
    """The figures of one probe's `days`; `lengths` [ms] are those of every day, `elapsed` [ms] is past."""
    own = [day for day in days if day.probe == probe]
    lows = [Extreme(day.dawn_low, day.date) for day in own if day.dawn_low is not None]
    highs = [Extreme(day.dusk_high, day.date) for day in own if day.dusk_high is not None]
    swings = [Extreme(day.swing, day.date) for day in own if day.swing is not None]
    held = {day.date: day.coverage * lengths[day.date] for day in own}
    seen = [(day.mean, held[day.date]) for day in own if day.mean is not None]
    weight = sum(each for _, each in seen)
    return Summary(
        probe=probe,
        days=sum(day.coverage > 0 for day in own),
        lows=len(lows),
        dawn_low=_mean(lows),
        lowest=min(lows, default=None),
        dusk_high=_mean(highs),
        highest=max(highs, default=None),
        swing=_mean(swings),
        widest=max(swings, default=None),
        mean=sum(mean * each for mean, each in seen) / weight if weight else None,
        minutes_below=sum(day.minutes_below for day in own),
        minutes_above=sum(day.minutes_above for day in own),
        coverage=min(1.0, sum(held.values()) / elapsed) if elapsed > 0 else 0.0,
    )


def warmth(probe: str, quantity: str, rollups: Sequence[Rollup], bounds: Sequence[tuple[str, int, int]]) -> Warmth:
    """The figures of another probe; `bounds` are the days as (date, start, end)."""
    some = [each for each in rollups if each.number]
    by_day, place = [], 0
    for on, _, end in bounds:
        begun = place
        while place < len(some) and some[place].at < end:
            place += 1
        of_day = some[begun:place]
        if of_day:
            number = sum(each.number for each in of_day)
            by_day.append(
                (on, min(e.low for e in of_day), max(e.high for e in of_day), sum(e.total for e in of_day) / number)
            )
    return Warmth(
        probe=probe,
        quantity=quantity,
        lowest=min((each.low for each in some), default=None),
        highest=max((each.high for each in some), default=None),
        mean=sum(each.total for each in some) / sum(each.number for each in some) if some else None,
        by_day=tuple(by_day),
    )


def _mean(found: Sequence[Extreme]) -> float | None:
    return sum(each.value for each in found) / len(found) if found else None
