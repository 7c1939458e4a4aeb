"""One fold of a stand's readings through the real pipeline: what it raises, and what plain limits would."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import exp

from fault_ponds import HOUR_MS, Series, Stand

from dawnline.event import PRIORITIES, Effect, Tick, Transition
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample
from dawnline_simulator.failures.failure import Failure

POND_ALARMS = ("ph-low", "ph-crash", "ph-high", "sudden-drop", "night-slide")
PROBE_ALARMS = ("probe-suspect", "no-data")
PLAIN_LIMITS = (6.5, 6.0)
ALIKE_MS = 3 * HOUR_MS  # an alarm this near to one of the healthy run is the same
AIR_LAG_S = 300.0


@dataclass
class Record:
    """What a run raised: (time, alarm, probe, priority), and when the raw pH fell below each plain limit.

    `ended` are the alarms that went away by themselves: (time, alarm, probe). `failing` is what the failing instrument
    showed: (time, value).
    """

    raised: list[tuple[int, str, str | None, str]] = field(default_factory=list)
    ended: list[tuple[int, str, str | None]] = field(default_factory=list)
    failing: list[tuple[int, float]] = field(default_factory=list)
    plain: dict[float, list[int]] = field(default_factory=lambda: {limit: [] for limit in PLAIN_LIMITS})

    def take(self, effects: list[Effect]) -> None:
        """Remember every alarm that was raised or became graver."""
        for effect in effects:
            if type(effect) is Transition and effect.change in ("raised", "escalated"):
                self.raised.append((effect.at, effect.alarm, effect.probe, effect.priority))
            elif type(effect) is Transition and effect.change == "returned":
                self.ended.append((effect.at, effect.alarm, effect.probe))

    def probe_alarms(self, begin: int, end: int, probe: str = "ph") -> list[tuple[int, str]]:
        """Alarms about this instrument within [begin, end)."""
        return [(at, a) for at, a, p, _ in self.raised if a in PROBE_ALARMS and p == probe and begin <= at < end]

    def accused_at(self, at: int) -> bool:
        """Whether an alarm about the pH probe stands at this time, so that none can be raised."""
        return any(
            sum(t < at and a == alarm and p == "ph" for t, a, p, _ in self.raised)
            > sum(t < at and a == alarm and p == "ph" for t, a, p in self.ended)
            for alarm in PROBE_ALARMS
        )

    def wakes(self, begin: int, end: int, least: str = "medium") -> list[tuple[int, str, str | None]]:
        """Alarms about the pond of at least this priority within [begin, end)."""
        enough = PRIORITIES[PRIORITIES.index(least) :]
        return [(at, a, p) for at, a, p, q in self.raised if a in POND_ALARMS and q in enough and begin <= at < end]


def new_wakes(record: Record, healthy: Record, begin: int, end: int) -> list[tuple[int, str, str | None]]:
    """Pond alarms of this run that the healthy run did not raise within three hours of the same time."""
    known = healthy.wakes(begin - ALIKE_MS, end + ALIKE_MS)
    return [
        wake
        for wake in record.wakes(begin, end)
        if not any(wake[1:] == other[1:] and abs(wake[0] - other[0]) <= ALIKE_MS for other in known)
    ]


def new_plain(record: Record, healthy: Record, limit: float, begin: int, end: int) -> bool:
    """Whether a plain limit on the raw reading would have called where the healthy run did not."""
    known = healthy.plain[limit]
    mine = [at for at in record.plain[limit] if begin <= at < end]
    return any(not any(abs(at - other) <= ALIKE_MS for other in known) for at in mine)


@dataclass
class Fall:
    """An instrument that fails from reading `first` to `last`; with `air_c` the thermometer hangs in the air."""

    failure: Failure
    first: int
    last: int
    air_c: Callable[[int], float] | None = None


def fold(
    pipe: Pipeline,
    stand: Stand,
    series: Series,
    first: int,
    last: int,
    fall: Fall | None = None,
    before: Callable[[int], None] | None = None,
) -> Record:
    """Readings `first` to `last` through `pipe`; `before` is told each index before its reading is taken."""
    record, seconds = Record(), stand.interval_ms / 1000
    acts = [act for act in series.acts if series.at[first] <= act.at]
    below = dict.fromkeys(PLAIN_LIMITS, False)
    thermometer: float | None = None
    for i in range(first, min(last, len(series.at))):
        if before is not None:
            before(i)
        at, ph, water = series.at[i], series.ph[i], series.water[i] if series.water else None
        shown: float | None = ph
        if fall is not None and fall.first <= i < fall.last:
            shown = fall.failure.show(seconds, series.truth[i], ph)
            record.failing += [] if shown is None else [(at, shown)]
            if fall.air_c is not None and water is not None:
                thermometer = water if thermometer is None else thermometer
                thermometer += (1.0 - exp(-seconds / AIR_LAG_S)) * (fall.air_c(at) - thermometer)
                water = round(thermometer * 16.0) / 16.0
        if acts and at >= acts[0].at:
            record.take(pipe.step(acts.pop(0)))
        values = (("ph", shown), ("water", water), ("twin", series.twin[i] if series.twin else None))
        heard = False
        for name, value in values:
            if value is not None:
                heard = True
                record.take(pipe.step(Sample(name, at, value, at)))
        if not heard:
            record.take(pipe.step(Tick(at)))
        if shown is not None:
            for limit in PLAIN_LIMITS:
                if (shown < limit) is not below[limit]:
                    below[limit] = not below[limit]
                    if below[limit]:
                        record.plain[limit].append(at)
    return record
