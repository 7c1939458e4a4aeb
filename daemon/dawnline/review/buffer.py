"""The buffer line looked back on: what the nights and the logbook said on the last day of a review."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final

from dawnline.event import Act, Day
from dawnline.logbook import acts as logbook
from dawnline.outlook import buffer_words
from dawnline.outlook.buffer_acts import enter
from dawnline.outlook.buffer_watch import BufferWatch
from dawnline.outlook.rain_book import Fell
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.outlook.sun import Sun

DAYS_BACK: Final = 40  # what the line looks back on


def buffer_text(
    days: Sequence[Day], acts: Sequence[Act], pond: PondSettings, limits: LimitSettings, rain: Sequence[Fell] = ()
) -> str:
    """The outlook of the last day that has a dawn low, in words, by the first probe that can say something.

    `days`, `acts` and `rain` are those of the `DAYS_BACK` days before as well. The days hold no water temperatures, so
    the words can differ a little from those of the morning itself.
    """
    probes = list(dict.fromkeys(day.probe for day in days))
    watch = BufferWatch(probes, Sun(pond.latitude, pond.longitude, pond.zone), limits)
    for act in acts:
        entry = logbook.read_kept(act)
        if entry is not None:
            enter(watch, act, entry, pond)
    said = []
    for probe, line in watch.lines.items():
        nights = [
            (day.dawn_low_at, day.dawn_low, day.date)
            for day in days
            if day.probe == probe and day.dawn_low is not None and day.dawn_low_at is not None
        ]
        if not nights:
            continue
        for at, low, _ in nights[:-1]:
            line.diary.night(at, low, None)
        at, low, on = nights[-1]
        line.rained(rain, pond.rain_depth_mm)
        outlook = line.night(at, low, None)
        words = buffer_words.say(outlook, limits.ph_low, date.fromisoformat(on), 0)
        said.append((bool(outlook.why_not), f"as of {on}: {words}"))
    return min(said, key=lambda each: each[0])[1] if said else "not evaluated: no dawn low is known"
