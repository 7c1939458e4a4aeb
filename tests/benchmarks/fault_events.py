"""What really befalls a pond, beside the faults: it must still wake the keeper, and is no fault of the probe."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from random import Random

from fault_fold import PROBE_ALARMS, fold
from fault_ponds import HOUR_MS, MINUTE_MS, Stand, draw, series

from dawnline_simulator.happenings import Acid
from dawnline_simulator.scenario import START
from dawnline_simulator.scenarios import SCENARIOS

LIMIT = 6.5
LOST_MS = 2 * HOUR_MS  # the reading may stand a few hundredths above a pH that sinks slowly; after this it is of no use
LATE_MS = 30 * MINUTE_MS  # a warning after the limit is passed, yet of use; two readings more for a slow probe
AROUND_MS = 6 * HOUR_MS
INTERVALS_S = (30, 10, 60, 300, 30, 120)
ACID_MEQ_L = (0.5, 0.7, 0.95, 1.2)
ACID_HOURS = (0.03, 0.1, 0.3, 1.0, 3.0)
SEEDS = {"cloudburst": 8, "air-stops": 8, "buffer-runs-out": 8}
DRAWN_ACIDS = 24  # acid into ponds drawn as those of the faults are, with their probes
DRAWN_FROM = 1_000  # stands that no fault has seen
ACID_DAY = 9


@dataclass(frozen=True)
class Event:
    """How one true event was told of; times in ms, None for never."""

    name: str
    words: str
    crossed: int | None
    warned: int | None
    plain: int | None
    suspect: int | None
    late_ms: int

    @property
    def in_time(self) -> bool:
        """Warned, at high priority, before the true pH passed the limit."""
        return self.crossed is not None and self.warned is not None and self.warned <= self.crossed

    @property
    def late(self) -> bool:
        """Warned within half an hour after it (two readings more)."""
        both = self.crossed is not None and self.warned is not None
        return both and self.crossed < self.warned <= self.crossed + self.late_ms  # type: ignore[operator]

    @property
    def lost(self) -> bool:
        """Nobody warned within two hours after it."""
        return self.crossed is not None and (self.warned is None or self.warned > self.crossed + LOST_MS)

    @property
    def instead(self) -> bool:
        """The probe was blamed, and nobody warned in time or within half an hour."""
        return self.suspect is not None and not self.in_time and not self.late


def events(seed: int) -> list[tuple[str, str, Stand]]:
    """Name, words and stand of every event."""
    made: list[tuple[str, str, Stand]] = []
    for i, dose in enumerate(ACID_MEQ_L):
        for j, hours in enumerate(ACID_HOURS):
            clock = ("18:30", "03:10", "11:45", "23:20")[(i + j) % 4]
            acid = (Acid(5, clock, hours, dose),)
            made.append(("acid-overdose", f"{dose} meq/L in {hours} h at {clock}", _heron(acid, len(made), seed)))
    for name, seeds in SEEDS.items():
        made += [(name, f"seed {own}", _heron(name, len(made) + own, seed, own)) for own in range(1, seeds + 1)]
    return made + [_drawn(seed, DRAWN_FROM + n) for n in range(DRAWN_ACIDS)]


def _heron(story: str | tuple[Acid, ...], number: int, seed: int, own: int = 0) -> Stand:
    """A story of the simulator's, told by one of several instruments."""
    scenario = SCENARIOS[story] if isinstance(story, str) else replace(SCENARIOS["acid-overdose"], happenings=story)
    start = round(datetime.fromisoformat(START).timestamp() * 1000)
    interval = INTERVALS_S[number % len(INTERVALS_S)] * 1000
    return Stand(number, scenario, seed * 1000 + own + number, start, interval, number % 4 != 0, number % 3 == 0, None)


def _drawn(seed: int, number: int) -> tuple[str, str, Stand]:
    stand, dice = draw(seed, number), Random(f"{seed}/acid/{number}")
    dose = stand.scenario.alkalinity_meq_l * dice.uniform(0.6, 1.1)
    hours = 0.03 * 100.0 ** dice.random()
    clock = f"{dice.randrange(24):02}:{dice.randrange(60):02}"
    story = replace(stand.scenario, happenings=(Acid(ACID_DAY, clock, hours, dose),), days=ACID_DAY + 1)
    return "acid, drawn pond", f"{dose:.2f} meq/L in {hours:.2f} h at {clock}", replace(stand, scenario=story)


def run(number: int, seed: int) -> Event:
    """Event `number` through the pipeline."""
    name, words, stand = events(seed)[number]
    data = series(stand, float(stand.scenario.days))
    record = fold(stand.pipeline(), stand, data, 0, len(data.at))
    crossed = next((at for at, ph in zip(data.at, data.truth, strict=True) if ph < LIMIT), None)
    since = data.at[0] if crossed is None else crossed - 2 * AROUND_MS
    late_ms = LATE_MS + 2 * stand.interval_ms
    warned = next((at for at, _, _ in record.wakes(since, data.at[-1], "high")), None)
    plain = next((at for at in record.plain[LIMIT] if at >= since + AROUND_MS), None)
    until = data.at[-1] if crossed is None else crossed + late_ms
    blamed = [at for at, alarm, _, _ in record.raised if alarm in PROBE_ALARMS and since <= at < until]
    words = f"{words}, {stand.words()}"
    return Event(name, words, crossed, warned, plain, min(blamed, default=None), late_ms)
