"""Rain by the day, beside the days before and those of a year ago."""

from __future__ import annotations

from datetime import tzinfo
from math import exp
from typing import Final, NamedTuple

from dawnline.review.stretch import Stretch
from dawnline.review.words import on_day

LEAST_MM: Final = 0.1  # worth a word; common practice, no source, as the next
LEAST_THINNED: Final = 0.01
WELL_HEARD: Final = 0.95


class Rain(NamedTuple):
    """`by_day` is each date with what fell on it [mm]; `before` and `year_ago` what fell on as many days [mm], None
    without a record. `thinned` is the share of its alkalinity that the pond lost to it, None where area or volume are
    not known. `heard` is the share of the record in which the gauge spoke, None without a gauge.
    """

    by_day: tuple[tuple[str, float], ...]
    before: float | None
    year_ago: float | None
    thinned: float | None
    heard: float | None = None

    @property
    def mm(self) -> float:
        """What fell on all days."""
        return sum(mm for _, mm in self.by_day)

    @property
    def wettest(self) -> tuple[str, float]:
        """The date on which most fell, and how much [mm]."""
        return max(self.by_day, key=lambda each: each[1])


def rain_beside(now: Stretch, before: Stretch, year_ago: Stretch, zone: tzinfo, depth_mm: float | None) -> Rain | None:
    """The rain of `now` in figures; None where no gauge was heard and nobody noted any. A millimetre takes 1 in
    `depth_mm` of the alkalinity.
    """
    heard = _heard(now)
    if not heard and not now.rain and not before.rain:
        return None
    by_day = tuple(
        (on, sum((each.mm for each in now.rain if start <= each.at < end), 0.0)) for on, start, end in now.bounds(zone)
    )

    def of(stretch: Stretch) -> float | None:
        return sum((each.mm for each in stretch.rain), 0.0) if stretch.days or stretch.rain else None

    thinned = None if depth_mm is None else 1.0 - exp(-sum(mm for _, mm in by_day) / depth_mm)
    return Rain(by_day, of(before), of(year_ago), thinned, heard)


def _heard(stretch: Stretch) -> float | None:
    """The share of the quarters with any reading in which a gauge spoke; None without a gauge."""
    gauges = [each for each in stretch.series if each.quantity == "rain"]
    if not gauges:
        return None
    recorded = {quarter.at for each in stretch.series for quarter in each.rollups}
    spoke = {quarter.at for each in gauges for quarter in each.rollups}
    return len(spoke) / len(recorded) if recorded else 0.0


def rain_said(fell: Rain, earlier: str, *, several: bool) -> tuple[str, dict[str, float | None]]:
    """The rain in a sentence, and the figures it rests on; `earlier` names the days before, `several` are looked at.

    >>> fell = Rain((("2026-06-08", 3.0), ("2026-06-09", 30.0)), 4.0, None, 0.03)
    >>> rain_said(fell, "in the week before", several=True)[0]
    '33 mm of rain fell (4 in the week before), most of it on Tuesday 9 June; it took about 3% of the buffer with it.'
    """
    before = "" if fell.before is None else f" ({fell.before:.3g} {earlier})"
    figures: dict[str, float | None] = {"rain_mm": fell.mm}
    gaps = ""
    if fell.heard is not None and fell.heard < WELL_HEARD:
        gaps = f"; the gauge was heard {fell.heard:.0%} of the time"
        figures["gauge_heard_percent"] = 100.0 * fell.heard
    if fell.mm < LEAST_MM:
        return f"No rain {'is known of' if gaps else 'fell'}{before}{gaps}.", figures
    day, most = fell.wettest
    text = f"{fell.mm:.3g} mm of rain fell{before}"
    if several:
        text += f", {'most' if most > fell.mm / 2 else f'{most:.3g}'} of it on {on_day(day)}"
    if fell.thinned is not None and fell.thinned >= LEAST_THINNED:
        text += f"; it took about {fell.thinned:.0%} of the buffer with it"
        figures["thinned_percent"] = 100.0 * fell.thinned
    return f"{text}{gaps}.", figures
