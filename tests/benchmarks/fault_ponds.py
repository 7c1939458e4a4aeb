"""Ponds and probes for the fault suite: drawn from a seed, run once in good health, read by every case.

A stand is one pond with its instruments: a pH probe ("ph"), perhaps a thermometer ("water"), perhaps a second pH probe
("twin"), perhaps a keeper who tests the pH by hand each week. Its series are what healthy instruments show.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from random import Random
from typing import NamedTuple
from zoneinfo import ZoneInfo

from dawnline.catalogue_file import shipped
from dawnline.event import Act
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline_simulator.pond import PondParameters
from dawnline_simulator.probes import PH_PROBE, Probe, ProbeParameters
from dawnline_simulator.scenario import Scenario
from dawnline_simulator.simulate import Course, simulate
from dawnline_simulator.weather import Climate

ZONE = ZoneInfo("Europe/Berlin")
DAY_MS, HOUR_MS, MINUTE_MS = 86_400_000, 3_600_000, 60_000
INTERVALS_S = (10, 10, 15, 30, 60, 60, 120, 300, 900)
COUNTS = (0.01, 0.01, 0.02, 0.1)


class Season(NamedTuple):
    """A date to begin at, the air, and how much of the summer's algae there is."""

    begins: str
    air_c: float
    swing_c: float
    algae: float


SEASONS = (
    Season("2026-01-12", 3.0, 2.5, 0.1),
    Season("2026-03-20", 8.0, 5.0, 0.5),
    Season("2026-05-08", 14.0, 6.0, 1.0),
    Season("2026-06-20", 18.0, 6.5, 1.2),
    Season("2026-07-25", 21.0, 6.5, 1.4),
    Season("2026-09-05", 15.0, 5.5, 0.9),
    Season("2026-10-15", 9.0, 4.0, 0.4),
)


@dataclass(frozen=True)
class Stand:
    """One pond with its instruments. `count` is the resolution of its pH probes, `kit` that of the hand test [pH]."""

    number: int
    scenario: Scenario
    seed: int
    start: int
    interval_ms: int
    thermometer: bool
    twin: bool
    kit: float | None

    @property
    def count(self) -> float:
        """The resolution of its pH probes."""
        return self.scenario.ph_probe.resolution

    def pipeline(self) -> Pipeline:
        """A watch that has learned nothing yet."""
        pond = self.scenario.pond
        place = PondSettings(name="Stand", latitude=pond.latitude, longitude=pond.longitude, timezone=pond.timezone)
        probes = [("ph", "ph")] + [("water", "temperature")] * self.thermometer + [("twin", "ph")] * self.twin
        return Pipeline(shipped(), place, [(name, quantity, None, None) for name, quantity in probes])

    def course(self, days: float) -> Course:
        """Its weather, for probes that hang in it."""
        return Course(self.scenario, self.seed, self.start, days, ZONE)

    def words(self) -> str:
        """What sort of stand it is, in short."""
        extras = [name for name, there in (("water", self.thermometer), ("twin", self.twin)) if there]
        kit = [f"kit {self.kit}"] if self.kit else []
        return f"{self.interval_ms // 1000} s, count {self.count:g}, " + ("+".join(extras + kit) or "alone")


class Series(NamedTuple):
    """What healthy instruments show, reading by reading, beside the true pH; `acts` are the hand tests."""

    at: list[int]
    truth: list[float]
    ph: list[float]
    water: list[float] | None
    twin: list[float] | None
    acts: list[Act]


def draw(seed: int, number: int) -> Stand:
    """Stand `number` of a suite."""
    dice = Random(f"{seed}/stand/{number}")
    season = dice.choice(SEASONS)
    start = round(datetime.fromisoformat(season.begins).replace(tzinfo=ZONE).timestamp() * 1000)
    pond = PondParameters(
        latitude=dice.uniform(38.0, 57.0),
        respiration_umol_l_h=4.0 * 6.0 ** dice.random(),
        photosynthesis_umol_l_h=dice.uniform(15.0, 75.0) * season.algae,
        aeration_per_hour=dice.uniform(0.04, 0.2),
        feed_g_day=dice.uniform(40.0, 260.0),
        nitrification_mg_l_day=dice.uniform(0.6, 2.4),
        shell_m2=dice.uniform(2.0, 6.0),
    )
    climate = Climate(
        air_mean_c=season.air_c + dice.uniform(-2.0, 2.0),
        air_swing_c=season.swing_c,
        cloud_mean=dice.uniform(0.15, 0.6),
        wind_mean_m_s=dice.uniform(0.5, 3.0),
    )
    alkalinity = 0.35 * 10.0 ** dice.random()
    probe = replace(
        PH_PROBE,
        noise=dice.uniform(0.004, 0.025),
        lag_s=dice.uniform(10.0, 90.0),
        wander_per_root_day=dice.uniform(0.005, 0.025),
        spikes_per_day=dice.choice((0.0, 0.5, 1.5, 3.0)),
        resolution=dice.choice(COUNTS),
    )
    scenario = Scenario("stand", 20, alkalinity, alkalinity / 2.0, season.air_c + 1.0, pond, climate, ph_probe=probe)
    return Stand(
        number,
        scenario,
        seed * 100_003 + number,
        start,
        dice.choice(INTERVALS_S) * 1000,
        thermometer=dice.random() < 0.6,
        twin=dice.random() < 0.3,
        kit=dice.choice((0.2, 0.5)) if dice.random() < 0.5 else None,
    )


def series(stand: Stand, days: float) -> Series:
    """The stand's healthy readings of `days`."""
    twin_probe = _twin(stand) if stand.twin else None
    seconds = stand.interval_ms / 1000
    at, truth, ph, water, twin = [], [], [], [], []
    for row in simulate(stand.scenario, stand.seed, stand.start, days, stand.interval_ms):
        at.append(row.at)
        truth.append(row.truth.ph)
        ph.append(row.ph)
        if stand.thermometer:
            water.append(row.water)
        if twin_probe is not None:
            twin.append(twin_probe.read(row.truth.ph, seconds, drift=0.05))
    return Series(at, truth, ph, water or None, twin or None, _hand_tests(stand, at, truth))


def _twin(stand: Stand) -> Probe:
    made: ProbeParameters = replace(stand.scenario.ph_probe, lag_s=40.0, spikes_per_day=0.5)
    return Probe(made, Random(f"{stand.seed}/twin"))


def _hand_tests(stand: Stand, at: list[int], truth: list[float]) -> list[Act]:
    """One test a week, toward six in the evening, read by eye to the kit's next colour."""
    if stand.kit is None:
        return []
    dice, acts = Random(f"{stand.seed}/kit"), []
    for day in range(2, 40, 7):
        when = stand.start + day * DAY_MS + 18 * HOUR_MS + round(dice.uniform(-2.0, 2.0) * HOUR_MS)
        index = (when - stand.start) // stand.interval_ms
        seen = dice.gauss(0.0, stand.kit / 4.0)
        if index < len(at):
            value = round((truth[index] + seen) / stand.kit) * stand.kit
            acts.append(Act(f"{stand.seed}-{day}", at[index], "hand-test", {"ph": round(value, 2)}))
    return acts
