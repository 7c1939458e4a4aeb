"""Reads out of the store what a look closer is made of: any stretch of time from an hour on."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Final

from dawnline.duration import DAY_MS, local_date
from dawnline.logbook.ledger import standing
from dawnline.probes.settings import ProbeSettings
from dawnline.queries.course_of import course_of, layers_of, step_of
from dawnline.queries.rain_of import rain_of
from dawnline.queries.standing_at import MOST_TRANSITIONS, standing_at
from dawnline.review.stretch import Series, Stretch
from dawnline.review.week import Week, look_back
from dawnline.rollup import STEP_MS
from dawnline.settings import Settings
from dawnline.store.reader import Reader

AFTER_MS: Final = 7 * DAY_MS  # how an alarm ended is known by then


def close_up_of(reader: Reader, settings: Settings, start: int, end: int) -> Week | None:
    """What happened from `start` to `end` [ms]; None where nothing was ever recorded.

    Without the days before and those of a year ago, and without sentences: it is there to be looked at.
    """
    newest = max((until for _, until in reader.span().values()), default=None)
    if newest is None:
        return None
    zone, step = settings.pond.zone, step_of(start, end)
    start, end = start - start % step, end + -end % step  # whole steps: what is drawn is what lies between
    first, last = local_date(start, zone), local_date(end - 1, zone)
    done = standing(reader.done())
    stretch = Stretch(
        first=first,
        last=last,
        start=start,
        end=end,
        days=reader.days(str(first), str(last)),
        series=[_series(reader, settings, probe, start, end) for probe in settings.probes],
        forecasts=reader.forecasts("tonight", start - DAY_MS, end),
        standing=standing_at(reader, start),
        transitions=reader.transitions(start, end + AFTER_MS, MOST_TRANSITIONS),
        acts=[act for act in done if start <= act.at < end],
        layers=layers_of(reader, settings),
        rain=rain_of(reader, settings, done, start, end),
    )
    nothing = Stretch(first - timedelta(days=1), first - timedelta(days=1), start, start)
    found = look_back(
        stretch,
        nothing,
        nothing,
        settings.pond,
        settings.limits,
        as_of=newest,
        titles={name: kind.title for name, kind in settings.catalogue.items()},
    )
    return replace(
        found,
        episodes=tuple(e for e in found.episodes if e.since < end and (e.ended_at is None or e.ended_at > start)),
        coming={probe: told for probe, told in found.coming.items() if start <= told.low_at < end},
    )


def _series(reader: Reader, settings: Settings, probe: ProbeSettings, start: int, end: int) -> Series:
    """Drawn from the readings, in as many steps as a screen shows; what is flagged by the quarter of an hour."""
    fine = course_of(reader, settings, probe.name, start, end)
    quarters = reader.rollups(probe.name, start - start % STEP_MS, end + -end % STEP_MS)
    return Series(probe.name, probe.quantity, [each for each in quarters if each.flagged], fine.rollups, fine.step)
