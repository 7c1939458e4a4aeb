"""Tonight's forecast and `night-slide`, measured: errors, bounds, warnings on bad nights, peace on good ones.

    python tests/benchmarks/tonight.py [--data DIR] [--seeds 101-120] [--only forecast|nights|calm]

Seeds 1 to 20 were used to develop, 101 to 120 are reported. DIR holds public records in replay's form (see records.py;
rows that their owners labelled as faulty are left out); without it simulated ponds alone are measured.

- forecast: the error of the coming dawn low (as the pond day has it) at sunset, one, three and five hours later, beside
  "like last night", "the present less what ten nights still lost (median)" and the mean of both; how many truths fell
  below the 10 % and above the 90 % bound.
- nights: ponds varied by seed on which something happens: was a person told before the true pH passed 6.5, how long
  before, and by which alarm first; beside a plain limit alarm at 6.5 with ten minutes' delay.
- calm: quiet ponds, varied by seed: alarms of medium and high priority in all weeks.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from random import Random
from statistics import fmean, median
from zoneinfo import ZoneInfo

from records import PLACES, rows

from dawnline import recording
from dawnline.catalogue_file import shipped
from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Day, Forecast, Transition
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample
from dawnline_simulator.scenario import Scenario
from dawnline_simulator.scenarios import SCENARIOS
from dawnline_simulator.simulate import Row, simulate

HERON_LANE = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin")
START = round(datetime(2026, 6, 4, tzinfo=ZoneInfo("Europe/Berlin")).timestamp() * 1000)
HOURS = (0, 1, 3, 5)
LATE_MS = 59 * MINUTE_MS  # after which a forecast no longer counts for its hour; smoothing lags by three readings
BAD_NIGHTS = ("air-stops", "cloudburst", "buffer-runs-out", "acid-overdose", "algae-bloom")
WARNINGS = ("night-slide", "sudden-drop", "ph-low", "ph-crash")
CALM_DAYS = 21


def varied(name: str, seed: int) -> Scenario:
    """A pond of this story, with its own volume, life, air and buffer."""
    dice, story = Random(f"{name}/{seed}"), SCENARIOS[name]
    pond = replace(
        story.pond,
        volume_litres=story.pond.volume_litres * dice.uniform(0.6, 1.6),
        surface_m2=story.pond.surface_m2 * dice.uniform(0.7, 1.4),
        respiration_umol_l_h=story.pond.respiration_umol_l_h * dice.uniform(0.85, 1.2),
        aeration_per_hour=story.pond.aeration_per_hour * dice.uniform(0.8, 1.3),
        photosynthesis_umol_l_h=story.pond.photosynthesis_umol_l_h * dice.uniform(0.6, 1.4),
        shell_m2=story.pond.shell_m2 * dice.uniform(0.8, 1.2),
    )
    return replace(story, pond=pond, alkalinity_meq_l=story.alkalinity_meq_l * dice.uniform(0.8, 1.25))


def pipeline_of(pond: PondSettings) -> tuple[Pipeline, PhWatch]:
    """A fold over one pH probe, and a thermometer where the series has one."""
    pipeline = Pipeline(shipped(), pond, [("ph", "ph", None, None), ("water", "temperature", None, None)])
    watch = pipeline.watches["ph"]
    assert isinstance(watch, PhWatch)
    return pipeline, watch


# ---------------------------------------------------------------- forecast


@dataclass
class Night:
    """What was known at each hour of one night, and what came."""

    low: float | None = None
    present: dict[int, float] = field(default_factory=dict)
    said: dict[int, tuple[float, float, float]] = field(default_factory=dict)


def nights(pond: PondSettings, samples: Iterable[Sample]) -> list[Night]:
    """Every night of a series."""
    pipeline, watch = pipeline_of(pond)
    found: dict[str, Night] = {}
    for sample in samples:
        effects = pipeline.step(sample)
        day = watch.rhythm.day
        if day is None:
            continue
        for effect in effects:
            if isinstance(effect, Day):
                found.setdefault(effect.date, Night()).low = effect.dawn_low
        evening = day.sunset if sample.at >= day.sunset else watch.rhythm.sun.day_at(day.start - 1).sunset
        hour = next((h for h in HOURS if 0 <= sample.at - evening - h * HOUR_MS < LATE_MS), None)
        if hour is None:
            continue
        date = str((watch.rhythm.sun.day_at(day.end) if sample.at >= day.sunset else day).date)
        night = found.setdefault(date, Night())
        if watch.drop.points and watch.drop.points[-1][0] >= evening + hour * HOUR_MS:
            night.present.setdefault(hour, watch.drop.points[-1][1])
        for effect in effects:
            if isinstance(effect, Forecast) and effect.body["night"] == date:
                body = effect.body
                night.said.setdefault(hour, (body["low"], body["low_p10"], body["low_p90"]))
    return [found[date] for date in sorted(found)]


def errors(series: list[Night], hour: int) -> dict[str, list[float]]:
    """Absolute errors by rule, and whether the truth lay below and above the bounds."""
    result: dict[str, list[float]] = {k: [] for k in ("tonight", "last", "drop", "half", "below", "above")}
    known: list[tuple[float, float]] = []
    for night in series:
        present, low = night.present.get(hour), night.low
        if present is None or low is None:
            continue
        if len(known) >= 3 and hour in night.said:
            said, p10, p90 = night.said[hour]
            last, drop = known[-1][1], present - median([v - was for v, was in known[-10:]])
            for name, forecast in (("tonight", said), ("last", last), ("drop", drop), ("half", (last + drop) / 2)):
                result[name].append(abs(forecast - low))
            result["below"].append(low < p10 - 1e-3)  # what is printed is rounded
            result["above"].append(low > p90 + 1e-3)
        known.append((present, low))
    return result


def show_forecast(name: str, groups: list[list[Night]]) -> Counter[tuple[int, str]]:
    """One row an hour; gives the counts behind the coverage."""
    counts: Counter[tuple[int, str]] = Counter()
    for hour in HOURS:
        by_series = [errors(series, hour) for series in groups]
        joined = {key: [x for each in by_series for x in each[key]] for key in by_series[0]}
        if not joined["tonight"]:
            continue
        means = {key: fmean(values) for key, values in joined.items()}
        best = min(means["last"], means["drop"], means["half"])
        p90 = sorted(joined["tonight"])[int(0.9 * len(joined["tonight"]))]
        print(
            f"{name:<28} +{hour} h {len(joined['tonight']):4} nights  last {means['last']:.4f}  "
            f"drop {means['drop']:.4f}  half {means['half']:.4f}  tonight {means['tonight']:.4f} "
            f"({means['tonight'] / best:.2f} of the best), p90 {p90:.3f}; "
            f"below {means['below']:.0%}, above {means['above']:.0%}"
        )
        counts.update({(hour, "n"): len(joined["below"]), (hour, "below"): int(sum(joined["below"]))})
        counts[hour, "above"] += int(sum(joined["above"]))
    return counts


def unlabelled(path: Path) -> Iterator[str]:
    """The lines of a record without those that its owners labelled as faulty."""
    lines = rows(path)
    header = next(lines)
    yield header
    names = next(csv.reader([header.rstrip()]))
    label = names.index("label") if "label" in names else None
    yield from (line for line in lines if label is None or not line.rstrip("\n").split(",")[label].strip())


def measure_forecast(data: Path | None, seeds: range) -> None:
    """On public records and on quiet simulated ponds."""
    counts: Counter[tuple[int, str]] = Counter()
    for name, (latitude, longitude, zone) in PLACES.items() if data is not None else ():
        path = Path(str(data)) / f"{name}.csv"
        if not path.exists():
            print(f"{name}: not there, left out")
            continue
        pond = PondSettings(name=name, latitude=latitude, longitude=longitude, timezone=zone)
        items = recording.read(unlabelled(path), ["ph", "water"], pond.zone)
        counts += show_forecast(name, [nights(pond, (item for item in items if isinstance(item, Sample)))])
    groups = [nights(HERON_LANE, (_sample(row) for row in _rows("quiet-week", seed, CALM_DAYS))) for seed in seeds]
    counts += show_forecast("simulated, quiet", groups)
    for hour in HOURS:
        below, above = (counts[hour, side] / (counts[hour, "n"] or 1) for side in ("below", "above"))
        print(f"all together +{hour} h: below {below:.1%}, above {above:.1%}")


def _rows(name: str, seed: int, days: float | None = None) -> Iterator[Row]:
    return simulate(varied(name, seed), seed, START, days, MINUTE_MS)


def _sample(row: Row) -> Sample:
    return Sample("ph", row.at, row.ph, row.at)


# ---------------------------------------------------------------- bad nights and good ones


def told(name: str, seed: int, days: float | None = None) -> tuple[list[Transition], int | None, int | None]:
    """What was raised or escalated, when the true pH passed 6.5, and when a plain limit alarm would have said so."""
    pipeline, watch = pipeline_of(HERON_LANE)
    found: list[Transition] = []
    passed = plain = below = None
    for row in _rows(name, seed, days):
        if passed is None and row.truth.ph < 6.5:
            passed = row.at
        effects = pipeline.step(_sample(row))
        found += [e for e in effects if isinstance(e, Transition) and e.change in ("raised", "escalated")]
        below = (below or row.at) if watch.current is not None and watch.current < 6.5 else None
        if plain is None and below is not None and row.at - below >= 10 * MINUTE_MS:
            plain = row.at
        if passed is not None and plain is not None and row.at > passed + 6 * HOUR_MS:
            break
    return found, passed, plain


def measure_nights(seeds: range) -> None:
    """Who was told in time, by story."""
    for name in BAD_NIGHTS:
        leads: list[float] = []
        plain_leads: list[float] = []
        first: Counter[str] = Counter()
        early = messages = missed = 0
        for seed in seeds:
            found, passed, plain = told(name, seed)
            warnings = [e for e in found if e.alarm in WARNINGS and e.priority != "low"]
            if passed is None:
                early += sum(e.priority == "high" for e in warnings)
                continue
            # What was said more than twelve hours before is another story: an early false wake.
            early += sum(e.priority == "high" and e.at < passed - 12 * HOUR_MS for e in warnings)
            near = [e for e in warnings if passed - 12 * HOUR_MS <= e.at]
            messages += sum(e.at <= passed + 3 * HOUR_MS for e in near)
            if not near or near[0].at >= passed:
                missed += 1
            leads.append((passed - near[0].at) / HOUR_MS if near else -24.0)
            plain_leads.append((passed - plain) / HOUR_MS if plain else -24.0)
            first[near[0].alarm if near else "nothing"] += 1
        if leads:
            ranked = sorted(leads)
            print(
                f"{name:<16} {len(leads):3} ponds passed 6.5, warned before {1 - missed / len(leads):.0%}, lead median "
                f"{median(leads):.1f} h, 10th percentile {ranked[len(ranked) // 10]:.1f} h (plain limit "
                f"{median(plain_leads):.1f} h); first by {dict(first)}; {messages / len(leads):.1f} messages each; "
                f"{early} early false wakes"
            )
        else:
            print(f"{name:<16} no pond passed 6.5; {early} alarms of high priority")


def measure_calm(seeds: range) -> None:
    """Alarms on quiet ponds."""
    alarms: Counter[str] = Counter()
    for seed in seeds:
        for each in told("quiet-week", seed, CALM_DAYS)[0]:
            if each.priority != "low":
                alarms[f"{each.alarm} {each.change} {each.priority}"] += 1
    print(f"calm ponds: {len(seeds) * CALM_DAYS / 7:.0f} pond-weeks: {dict(alarms) or 'nothing'}")


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, metavar="DIR")
    parser.add_argument("--seeds", default="101-120")
    parser.add_argument("--only", choices=("forecast", "nights", "calm"))
    args = parser.parse_args()
    first, last = (int(part) for part in args.seeds.split("-"))
    seeds = range(first, last + 1)
    if args.only in (None, "forecast"):
        measure_forecast(args.data, seeds)
    if args.only in (None, "nights"):
        measure_nights(seeds)
    if args.only in (None, "calm"):
        measure_calm(range(first, first + max(len(seeds), 34)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
