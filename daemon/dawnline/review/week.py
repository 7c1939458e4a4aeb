"""The week, computed once: everything that the text, the report, the page and the data say of some days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from itertools import pairwise
from statistics import median
from typing import Final, NamedTuple

from dawnline.alarms.episodes import DOUBTED, Episode, episodes
from dawnline.alarms.performance import Performance, measure
from dawnline.duration import HOUR_MS
from dawnline.electrode.calibration import IDEAL
from dawnline.event import Act
from dawnline.logbook.probe_acts import DESK_KINDS
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.outlook.sun import Sun
from dawnline.review.alarms import NO_TITLES
from dawnline.review.corrected import Correction, corrected
from dawnline.review.nights import SeenNight, Told, nights, told
from dawnline.review.rain import Rain, rain_beside
from dawnline.review.stretch import Series, Stretch
from dawnline.review.summary import Summary, Warmth, summary, warmth
from dawnline.rollup import STEP_MS
from dawnline.typed.quantity import Units

LEAST_GAP_MS: Final = HOUR_MS


class Gap(NamedTuple):
    """No good reading of a probe from `start` to `end` [ms]; `flagged` were there and not good."""

    probe: str
    start: int
    end: int
    flagged: int


@dataclass(frozen=True, slots=True)
class Beside:
    """One pH probe: these days, as many before them, and the same ones a year ago; None where there is no record."""

    now: Summary
    before: Summary | None
    year_ago: Summary | None


@dataclass(frozen=True, slots=True)
class WarmthBeside:
    """As `Beside`, for a probe of another quantity."""

    now: Warmth
    before: Warmth | None
    year_ago: Warmth | None


@dataclass(frozen=True, slots=True)
class Week:
    """Everything. `as_of` is the time of the newest reading [ms]; `coming`, by probe, is the forecast of a night that
    has not ended. `logbook` is without the moves on alarms, which stand in `episodes`; `raised` are
    those of them that began in these days, `raised_before` so many in the days before; `titles` are what alarms are
    called.
    """

    pond: str
    zone: tzinfo
    limits: LimitSettings
    sun: Sun
    as_of: int | None
    stretch: Stretch
    probes: tuple[Beside, ...]
    others: tuple[WarmthBeside, ...]
    nights: tuple[SeenNight, ...]
    coming: Mapping[str, Told]
    corrections: tuple[Correction, ...]
    episodes: tuple[Episode, ...]
    raised: tuple[Episode, ...]
    raised_before: int
    performance: Performance
    logbook: tuple[Act, ...]
    logbook_before: tuple[Act, ...]
    rain: Rain | None
    gaps: tuple[Gap, ...]
    buffer: str
    units: Units
    titles: Mapping[str, str]

    def doubts(self, probe: str) -> list[Episode]:
        """When a probe could not be believed, in these days."""
        return [each for each in self.episodes if (each.alarm, each.probe) == (DOUBTED, probe)]

    @property
    def doubted(self) -> set[tuple[str, str]]:
        """The days, as date and probe, on which one could not be believed."""
        names, days = [each.now.probe for each in self.probes], self.stretch.bounds(self.zone)
        return {
            (on, probe)
            for probe in names
            for each in self.doubts(probe)
            for on, start, end in days
            if each.within(start, end)
        }

    @property
    def whole(self) -> bool:
        """Whether the days are over."""
        return self.as_of is None or self.as_of >= self.stretch.end


def look_back(
    now: Stretch,
    before: Stretch,
    year_ago: Stretch,
    pond: PondSettings,
    limits: LimitSettings,
    *,
    as_of: int | None,
    buffer: str = "",
    titles: Mapping[str, str] = NO_TITLES,
) -> Week:
    """Put the days of `now` into figures, beside those `before` and a `year_ago`. `buffer` is its line in words,
    `titles` are what alarms are called.
    """
    sun = Sun(pond.latitude, pond.longitude, pond.zone)
    of_ph = [each.probe for each in now.series if each.quantity in IDEAL]
    of_ph += [name for name in dict.fromkeys(day.probe for day in now.days) if name not in of_ph]
    dates = str(now.first), str(now.last)
    in_range = [each for each in now.forecasts if dates[0] <= str(each.body["night"]) <= dates[1]]
    last_hour = [each for each in now.forecasts if as_of is not None and each.at > as_of - HOUR_MS]
    coming = {str(each.body["probe"]): told(each) for each in last_hour}
    return Week(
        pond=pond.name,
        zone=pond.zone,
        limits=limits,
        sun=sun,
        as_of=as_of,
        stretch=now,
        probes=tuple(_beside(name, (now, before, year_ago), sun, as_of) for name in of_ph),
        others=tuple(
            _warmth_beside(each, now, before, year_ago, sun)
            for each in now.series
            if each.probe not in of_ph and each.quantity != "rain"
        ),
        nights=tuple(nights(in_range, now.days, sun)),
        coming={probe: each for probe, each in coming.items() if each.low_at >= each.at},
        corrections=tuple(_corrections(now, sun)),
        episodes=tuple(episodes([*now.standing, *now.transitions])),
        raised=tuple(_raised(now)),
        raised_before=len(_raised(before)),
        performance=_performance(now, before, as_of),
        logbook=tuple(act for act in now.acts if act.kind not in DESK_KINDS),
        logbook_before=tuple(act for act in before.acts if act.kind not in DESK_KINDS),
        rain=rain_beside(now, before, year_ago, pond.zone, pond.rain_depth_mm),
        gaps=tuple(gap for each in now.series for gap in _gaps(each, now, as_of)),
        buffer=buffer,
        units=pond.units,
        titles=titles,
    )


def _raised(in_stretch: Stretch) -> list[Episode]:
    return [each for each in episodes(in_stretch.transitions) if each.raised_at is not None]


def _performance(now: Stretch, before: Stretch, as_of: int | None) -> Performance:
    end = now.end if as_of is None else max(now.start + 1, min(now.end, as_of + 1))
    older = [each for each in now.standing if each.at < before.start]
    return measure([*older, *before.transitions, *now.transitions], now.start, end)


def _beside(probe: str, stretches: tuple[Stretch, Stretch, Stretch], sun: Sun, as_of: int | None) -> Beside:
    def of(stretch: Stretch) -> Summary:
        lengths = {on: end - start for on, start, end in stretch.bounds(sun.zone)}
        elapsed = min(stretch.end, stretch.end if as_of is None else as_of) - stretch.start
        return summary(probe, stretch.days, lengths, elapsed)

    now, before, year_ago = map(of, stretches)
    return Beside(now, before if before.days else None, year_ago if year_ago.days else None)


def _warmth_beside(series: Series, now: Stretch, before: Stretch, year_ago: Stretch, sun: Sun) -> WarmthBeside:
    def of(stretch: Stretch) -> Warmth | None:
        same = next((each for each in stretch.series if each.probe == series.probe), None)
        found = None if same is None else warmth(*same[:3], stretch.bounds(sun.zone))
        return found if found is not None and found.mean is not None else None

    return WarmthBeside(warmth(*series[:3], now.bounds(sun.zone)), of(before), of(year_ago))


def _corrections(now: Stretch, sun: Sun) -> list[Correction]:
    times = {on: (start, end) for on, start, end in now.bounds(sun.zone)}
    found = []
    for probe, layer in now.layers.items():
        own = [day for day in now.days if day.probe == probe and day.date in times]
        if own:
            found.append(corrected(own, layer, [times[day.date] for day in own]))
    return found


def _gaps(series: Series, now: Stretch, as_of: int | None) -> list[Gap]:
    """Where nothing good was read for an hour, or for three times as long as this probe is used to be silent."""
    if as_of is None:
        return []
    good = [each.at for each in series.rollups if each.number]
    end = min(now.end, as_of)
    usual = median(b - a for a, b in pairwise(good)) if len(good) > 1 else 0
    gaps = []
    for last, following in pairwise([now.start - STEP_MS, *good, end]):
        start = last + STEP_MS
        if following - start >= max(LEAST_GAP_MS, 3 * usual):
            flagged = sum(each.flagged for each in series.rollups if start <= each.at < following)
            gaps.append(Gap(series.probe, start, following, flagged))
    return gaps
