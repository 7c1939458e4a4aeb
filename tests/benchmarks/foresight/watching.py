"""The real pipeline over one pond's readings, in process."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from heapq import merge
from typing import NamedTuple

from peers import QUIET_MS
from world import Place

from dawnline.catalogue_file import shipped
from dawnline.event import Act, Forecast, Transition, Verdict
from dawnline.outlook.settings import PondSettings
from dawnline.people.person import QUIET
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

NEVER = 2**62
WATCH = "dawnline"  # as the tables call it
# Alarms that say something about the water; a suspect probe is no warning of a crash.
OF_WATER = ("ph-low", "ph-crash", "sudden-drop", "night-slide")
BUFFER = "buffer-running-out"  # told by day, days ahead: no false wake, and no warning of what befalls a night


@dataclass
class Alarm:
    """An alarm raised, or raised in priority; `until` is when it returned."""

    at: int
    name: str
    priority: str
    until: int = NEVER


class Watched(NamedTuple):
    """What the watch said."""

    alarms: list[Alarm]
    forecasts: list[Forecast]
    refused: list[str]
    nights: list[tuple[int, float, float | None]]  # the dawn lows of the buffer line: time, pH, the water [degC]

    def first(
        self, begin: int, end: int, names: Sequence[str] = OF_WATER, priorities: Sequence[str] = ("medium", "high")
    ) -> Alarm | None:
        """The first alarm of these names and priorities that stands at `begin` or comes up to `end`."""
        return next(
            (
                alarm
                for alarm in self.alarms
                if alarm.at <= end and alarm.until > begin and alarm.name in names and alarm.priority in priorities
            ),
            None,
        )

    def told(self, begin: int, end: int, zone: tzinfo) -> int | None:
        """When somebody with the usual quiet hours is told [ms]; what is medium waits for their end."""
        times = [
            at
            for alarm in self.alarms
            if alarm.name in OF_WATER and alarm.priority in ("medium", "high")
            for at in [max(alarm.at, begin) if alarm.priority == "high" else _by_day(max(alarm.at, begin), zone)]
            if at <= min(end, alarm.until)
        ]
        return min(times, default=None)

    def woken(self, before: int) -> int:
        """How often somebody is woken before a time; what comes again within six hours is one incident."""
        high = [a for a in self.alarms if a.priority == "high" and a.name in OF_WATER and a.at < before]
        count, over = 0, -NEVER
        for alarm in sorted(high, key=lambda alarm: alarm.at):
            count += alarm.at - over >= QUIET_MS
            over = max(over, alarm.until)
        return count


def _by_day(at: int, zone: tzinfo) -> int:
    """`at`, or the end of the quiet hours it lies in [ms]."""
    begin, end = (QUIET[0] // 60, QUIET[1] // 60)
    when = datetime.fromtimestamp(at / 1000, zone)
    if end <= when.hour < begin:
        return at
    day = when + timedelta(days=when.hour >= begin)
    return round(day.replace(hour=end, minute=0, second=0, microsecond=0).timestamp() * 1000)


def pipeline_of(place: Place, volume_litres: float | None, quantity: str = "ph") -> Pipeline:
    """A watch with one pH probe and a thermometer."""
    pond = PondSettings(
        name="pond",
        latitude=place.latitude,
        longitude=place.longitude,
        timezone=place.zone,
        volume_litres=volume_litres,
    )
    return Pipeline(shipped(), pond, [("ph", quantity, None, None), ("water", "temperature", None, None)])


def watch(
    place: Place, samples: Sequence[Sample], acts: Sequence[Act] = (), volume_litres: float | None = None
) -> Watched:
    """Run it over readings and acts, in the order of time."""
    pipeline = pipeline_of(place, volume_litres)
    alarms: list[Alarm] = []
    forecasts: list[Forecast] = []
    refused: list[str] = []
    events = merge(samples, acts, key=lambda event: event.at) if acts else samples
    for event in events:
        for effect in pipeline.step(event):
            if isinstance(effect, Transition) and effect.change in ("raised", "escalated"):
                alarms.append(Alarm(effect.at, effect.alarm, effect.priority))
            elif isinstance(effect, Transition) and effect.change == "returned":
                for alarm in alarms:
                    if alarm.name == effect.alarm:
                        alarm.until = min(alarm.until, effect.at)
            elif isinstance(effect, Forecast):
                forecasts.append(effect)
            elif isinstance(effect, Verdict) and not effect.accepted:
                refused.append(effect.text)
    return Watched(alarms, forecasts, refused, list(pipeline.buffer.lines["ph"].diary.nights))
