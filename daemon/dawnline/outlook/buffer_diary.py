"""The diary of one probe's buffer line: its dawn lows, and what was done or measured between them."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from math import prod
from statistics import median
from typing import Final, NamedTuple

from dawnline.duration import DAY_MS
from dawnline.outlook import buffer_course, level
from dawnline.outlook.buffer_course import warm_days, zeal
from dawnline.outlook.buffer_odds import Record
from dawnline.outlook.hardness import bounds, finest_step
from dawnline.state import Stateful

NIGHTS_FITTED: Final = 40
ENTRIES_KEPT: Final = 200
# pH by which an act may move the level beside what it does to alkalinity (new CO2, how much of it, how well mixed);
# common sense, no source.
ACT_SD: Final = 0.02
DOSE_SD: Final = 0.05
FEED_SD: Final = 0.05
CALIBRATED_SD: Final = 0.015


RAIN: Final = "rain"  # the source of all entries of rain
RAIN_SD: Final = 0.05  # pH by which much rain may move the level, where its share is not known; likewise


class Night(NamedTuple):
    """One dawn low [pH] with the water's temperature [degC], where there is a thermometer."""

    at: int
    low: float
    water_c: float | None


class Entry(NamedTuple):
    """What happened: `kind` is a key of `_LEVEL` or `_COURSE`, the meaning of `a` and `b` is told there. `source` names
    the act it came from, so that a correction finds it.
    """

    at: int
    kind: str
    a: float = 0.0
    b: float = 0.0
    source: str = ""


class Oddity(NamedTuple):
    """Something found in the lows themselves at the night of `at`: the level stepped, or that night alone was odd."""

    at: int
    stepped: bool
    sd: float


# What an entry is to the level: its mark, and the sd [pH] of the step it brings; None where `a` says it ...
_LEVEL: Final[dict[str, tuple[int, float | None]]] = {
    "checked": (level.CHECK, 0.0),  # `a` is the error of the probe [pH]
    "calibrated": (level.RESET, CALIBRATED_SD),
    "cleaned": (level.PROBE_STEP, None),
    "stepped": (level.POND_STEP, None),
    "diluted": (level.POND_STEP, ACT_SD),
    "added": (level.POND_STEP, DOSE_SD),
    "rained": (level.POND_STEP, None),
    "fed": (level.POND_STEP, FEED_SD),
    "ice": (level.POND_STEP, None),  # `b` is 1 where it covers the pond
}
# ... and to the course of the buffer.
_COURSE: Final = {
    "diluted": buffer_course.DILUTED,  # share exchanged, alkalinity of the new water [meq/L]
    "added": buffer_course.ADDED,  # alkalinity added [meq/L]
    "rained": buffer_course.TIMES,  # share of alkalinity that is left
    # Feed before over feed after; kept as the feed from now on [g a day], 0 for none, less where it is not known.
    "fed": buffer_course.FED,
    "tested": buffer_course.TEST,  # KH read [dKH], step of the kit [dKH], 0 where it is not known
}


class Diary(Stateful):
    """Months of nights and acts, never of readings."""

    KEPT = ("nights", "entries", "fed_before")

    def __init__(self) -> None:
        self.nights: deque[tuple[int, float, float | None]] = deque(maxlen=NIGHTS_FITTED)
        self.entries: deque[tuple[int, str, float, float, str]] = deque(maxlen=ENTRIES_KEPT)
        self.fed_before: float | None = None  # feed by the last such entry that is no longer kept [g a day]

    def night(self, at: int, low: float, water_c: float | None) -> None:
        """One more dawn low [pH], with the water's temperature [degC]."""
        before = self.nights[-1][0] if self.nights else 0
        self.nights.append((at, low, water_c))
        fell = [Entry(*row) for row in self.entries if row[4] == RAIN and before < row[0] <= at]
        if len(fell) > 1:  # rain of one night is one entry
            self.entries = deque((row for row in self.entries if Entry(*row) not in fell), maxlen=ENTRIES_KEPT)
            parts = [row.a for row in fell]
            self.enter(fell[-1]._replace(a=prod(parts) if fell[0].kind == "rained" else min(sum(parts), RAIN_SD)))

    def enter(self, entry: Entry) -> None:
        """One more act or measurement."""
        if len(self.entries) == ENTRIES_KEPT:
            oldest = Entry(*self.entries[0])
            self.fed_before = oldest.a if oldest.kind == "fed" else self.fed_before
        self.entries.append(entry)

    def forget(self, source: str) -> None:
        """What came from this act never was."""
        kept = [row for row in self.entries if not source or Entry(*row).source != source]
        self.entries.clear()
        self.entries.extend(kept)

    def feed_g_day(self) -> list[float]:
        """Feed as the logbook said it, in order of time [g a day]; 0 where feeding stopped."""
        fed = sorted((row.at, row.a) for row in map(Entry._make, self.entries) if row.kind == "fed")
        return [*([] if self.fed_before is None else [self.fed_before]), *(grams for _, grams in fed)]

    @property
    def frozen_over(self) -> bool:
        """Whether ice covers the pond, as the logbook last said."""
        said = [(row.at, row.b) for row in map(Entry._make, self.entries) if row.kind == "ice"]
        return bool(said) and max(said)[1] > 0

    @property
    def water_c(self) -> float | None:
        """The water of the last nights [degC]; None without a thermometer."""
        warm = [water for _, _, water in list(self.nights)[-3:] if water is not None]
        return median(warm) if warm else None

    @property
    def pace(self) -> float:
        """Warm days a day at present."""
        return warm_days(1.0, self.water_c) * zeal(self.nights[-1][1]) if self.nights else 1.0

    def record(self, oddities: Mapping[int, Oddity]) -> Record:
        """The diary as the model wants it."""
        record = Record([low for _, low, _ in self.nights])
        timeline = self._timeline()
        self._forward(timeline, oddities, record)
        self._backward(timeline, record)
        return record

    def _timeline(self) -> list[Night | Entry]:
        """Nights and what happened since the first of them, in order of time."""
        nights = [Night(*row) for row in self.nights]
        first = nights[0].at if nights else 0
        entries = [row for row in self._with_feed_ratios() if row.at > first]
        return sorted([*nights, *entries], key=lambda row: (row.at, isinstance(row, Entry)))

    def _with_feed_ratios(self) -> Iterator[Entry]:
        """All entries in order of time, those of feed as feed before over feed after; 1 where either is not known."""
        before = self.fed_before if self.fed_before and self.fed_before > 0 else None
        for row in sorted(map(Entry._make, self.entries), key=lambda row: row.at):
            if row.kind != "fed":
                yield row
                continue
            yield row._replace(a=before / row.a if before and row.a > 0 else 1.0)
            before = row.a if row.a > 0 else before

    def _forward(self, timeline: list[Night | Entry], oddities: Mapping[int, Oddity], record: Record) -> None:
        now_c, before = self.water_c, None
        for row in timeline:
            days = 0.0 if before is None else (row.at - before) / DAY_MS
            if isinstance(row, Night):
                odd = oddities.get(row.at)
                if odd is not None and odd.stepped:
                    record.level_marks.append(level.Mark(level.POND_STEP, 0.0, 0.0, odd.sd))
                warmer = 0.0 if row.water_c is None or now_c is None else row.water_c - now_c
                extra = odd.sd if odd is not None and not odd.stepped else 0.0
                record.level_marks.append(level.Mark(level.NIGHT, days, warmer, extra))
            elif row.kind in _LEVEL:
                mark, sd = _LEVEL[row.kind]
                step = row.a if sd is None else sd
                if row.kind == "rained":  # a drizzle brings little CO2, and mixes in
                    step = min(ACT_SD, 1.0 - row.a)
                record.level_marks.append(level.Mark(mark, days, row.a, step))
            else:
                continue
            before = row.at

    def _backward(self, timeline: list[Night | Entry], record: Record) -> None:
        later = timeline[-1].at if timeline else 0
        kit = finest_step([row.a for row in map(Entry._make, self.entries) if row.kind == "tested" and not row.b])
        for row, pace in self._with_pace(timeline):
            days = pace * (later - row.at) / DAY_MS
            if isinstance(row, Night):
                record.course_marks.append(buffer_course.Mark(buffer_course.NIGHT, days))
            elif row.kind in _COURSE:
                record.course_marks.append(buffer_course.Mark(_COURSE[row.kind], days, row.a, row.b))
                if row.kind == "tested":
                    record.tests.append(bounds(row.a, row.b or kit))
            else:
                continue
            later = row.at

    def _with_pace(self, timeline: list[Night | Entry]) -> Iterator[tuple[Night | Entry, float]]:
        """Backward, each with the warm days a day of the stretch that follows it."""
        pace = self.pace
        for row in reversed(timeline):
            yield row, pace
            if isinstance(row, Night):
                pace = warm_days(1.0, row.water_c) * zeal(row.low)
