"""What the record holds about some days: the raw material of a review, as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta, tzinfo
from typing import NamedTuple

from dawnline.duration import local_ms
from dawnline.electrode.calibration import STANDARD_C
from dawnline.electrode.layer import Layer
from dawnline.event import Act, Day, Forecast, Transition
from dawnline.outlook.rain_book import Fell
from dawnline.rollup import STEP_MS, Rollup


class Series(NamedTuple):
    """One probe's readings by the quarter of an hour. Those of a pH probe are in pH, whatever it measures.

    Over a day or two they are there in steps of `fine_step` ms as well, as `fine`.
    """

    probe: str
    quantity: str
    rollups: Sequence[Rollup]
    fine: Sequence[Rollup] = ()
    fine_step: int = STEP_MS


@dataclass(frozen=True, slots=True)
class Stretch:
    """The days `first` to `last`, both included: from `start` to `end` [ms].

    `days` holds the running day too. `forecasts` are those of the nights (of the coming one as well), `mornings` what
    the buffer line said; `standing` are the earlier transitions of alarms that stood at `start`; `acts` are the
    accepted ones, `rain` what the gauge and the logbook say that fell.
    """

    first: date
    last: date
    start: int
    end: int
    days: Sequence[Day] = ()
    series: Sequence[Series] = ()
    forecasts: Sequence[Forecast] = ()
    mornings: Sequence[Forecast] = ()
    standing: Sequence[Transition] = ()
    transitions: Sequence[Transition] = ()
    acts: Sequence[Act] = ()
    rain: Sequence[Fell] = ()
    layers: Mapping[str, Layer] = field(default_factory=dict)  # of each pH probe
    raw_since: int = 0  # before this [ms] only quarters of an hour are kept, of some probe at least

    @property
    def thinned(self) -> str:
        """What is to be said of days of which not every reading is kept any more; "" where all are."""
        if self.raw_since <= self.start:
            return ""
        which = "these days" if self.raw_since >= self.end else "the first of these days"
        return f"of {which} only the lowest, highest and mean of each quarter of an hour are kept ([store] keep_raw)"

    @property
    def dates(self) -> list[date]:
        """Every date of it, in order."""
        return [self.first + timedelta(days=number) for number in range((self.last - self.first).days + 1)]

    def bounds(self, zone: tzinfo) -> list[tuple[str, int, int]]:
        """Every day of it: date, begin and end [ms]; 23, 24 or 25 hours."""
        ends = [local_ms(on, zone) for on in self.dates[1:]]
        starts = [self.start, *ends]
        return [(str(on), a, b) for on, a, b in zip(self.dates, starts, [*ends, self.end], strict=True)]


def in_ph(rollups: Iterable[Rollup], layer: Layer, warmth: Iterable[Rollup], step: int = STEP_MS) -> list[Rollup]:
    """What a pH probe measured in stretches of `step` ms, in pH by the calibration that held then.

    `warmth` [degC] compensates a probe of millivolts: within a quarter of an hour water changes too little to show in
    the second decimal.
    """
    by_time = {each.at: each.mean for each in warmth}
    found, celsius = [], STANDARD_C
    for each in rollups:
        held, known = layer.in_force(each.at + step // 2), by_time.get(each.at)
        celsius = celsius if known is None else known
        if not each.number or (held.never and held.quantity == "ph"):
            found.append(each)
            continue
        ends = sorted((held.ph(each.low, celsius), held.ph(each.high, celsius)))
        total = each.number * held.ph(each.total / each.number, celsius)
        found.append(each._replace(low=ends[0], high=ends[1], total=total))
    return found
