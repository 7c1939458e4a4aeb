"""What really befalls a pond, beside the faults: it must still wake the keeper, and is no fault of the probe."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from fault_fold import PROBE_ALARMS, fold
from fault_ponds import HOUR_MS, MINUTE_MS, Stand, series

from dawnline_simulator.happenings import Acid
from dawnline_simulator.scenario import START, Scenario
from dawnline_simulator.scenarios import SCENARIOS

LIMIT = 6.5
LATE_MS = 30 * MINUTE_MS  # a warning after the limit is passed, yet of use
AROUND_MS = 6 * HOUR_MS
INTERVALS_S = (30, 10, 60, 300, 30, 120)
ACID_MEQ_L = (0.5, 0.7, 0.95, 1.2)
ACID_HOURS = (0.03, 0.1, 0.3, 1.0, 3.0)
SEEDS = {"cloudburst": 8, "air-stops": 8, "buffer-runs-out": 8}


@dataclass(frozen=True)
class Event:
    """How one true event was told of; times in ms, None for never."""

    name: str
    words: str
    crossed: int | None
    warned: int | None
    plain: int | None
    suspect: int | None

    @property
    def in_time(self) -> bool:
        """Warned, at high priority, before the true pH passed the limit."""
        return self.crossed is not None and self.warned is not None and self.warned <= self.crossed

    @property
    def late(self) -> bool:
        """Warned within half an hour after it."""
        both = self.crossed is not None and self.warned is not None
        return both and self.crossed < self.warned <= self.crossed + LATE_MS  # type: ignore[operator]

    @property
    def instead(self) -> bool:
        """The probe was blamed, and nobody warned in time or within half an hour."""
        return self.suspect is not None and not self.in_time and not self.late


def events() -> list[tuple[str, str, Scenario, int]]:
    """Name, words, story and seed of every event."""
    made = []
    for i, dose in enumerate(ACID_MEQ_L):
        for j, hours in enumerate(ACID_HOURS):
            clock = ("18:30", "03:10", "11:45", "23:20")[(i + j) % 4]
            story = replace(SCENARIOS["acid-overdose"], happenings=(Acid(5, clock, hours, dose),))
            made.append(("acid-overdose", f"{dose} meq/L in {hours} h at {clock}", story, 10 * i + j))
    for name, seeds in SEEDS.items():
        made += [(name, f"seed {seed}", SCENARIOS[name], seed) for seed in range(1, seeds + 1)]
    return made


def run(number: int, seed: int) -> Event:
    """Event `number` through the pipeline."""
    name, words, story, own = events()[number]
    start = round(datetime.fromisoformat(START).timestamp() * 1000)
    interval = INTERVALS_S[number % len(INTERVALS_S)] * 1000
    stand = Stand(number, story, seed * 1000 + own, start, interval, number % 4 != 0, number % 3 == 0, None)
    data = series(stand, float(story.days))
    record = fold(stand.pipeline(), stand, data, 0, len(data.at))
    crossed = next((at for at, ph in zip(data.at, data.truth, strict=True) if ph < LIMIT), None)
    since = start if crossed is None else crossed - 2 * AROUND_MS
    warned = next((at for at, _, _ in record.wakes(since, data.at[-1], "high")), None)
    plain = next((at for at in record.plain[LIMIT] if at >= since + AROUND_MS), None)
    until = data.at[-1] if crossed is None else crossed + LATE_MS
    blamed = [at for at, alarm, _, _ in record.raised if alarm in PROBE_ALARMS and since <= at < until]
    return Event(name, f"{words}, {stand.words()}", crossed, warned, plain, min(blamed, default=None))
