"""Public pH records: tonight's forecast on each, and false alarms. They are not part of this repository.

DIR holds CSV files in replay's form (columns time, ph, water; `in_water` 0 marks rows out of the water, which are left
out; anything in `label` marks a technician's doubt: such nights are watched, but not scored).
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path
from zoneinfo import ZoneInfo

from calm import dated
from dawns import Blocks
from tonight import Guess, guesses, ratio_at, section
from watching import watch
from world import DAY_MS, Place

from dawnline.duration import parse_time
from dawnline.reading import Sample

PLACES = {
    "chalgrove-lake-2019-spring": Place(37.24, -78.46, "America/New_York"),
    "mashapaug-pond-2025": Place(41.79, -71.43, "America/New_York"),
    "lake-archer-2024": Place(42.06, -71.33, "America/New_York"),
    "franklin-basin-2014": Place(41.95, -111.58, "America/Denver"),
    "mendon-2019": Place(41.72, -111.85, "America/Denver"),
    "main-street-2017": Place(41.72, -111.83, "America/Denver"),
}


def read(path: Path, place: Place) -> tuple[list[Sample], list[int]]:
    """The samples of a record in the order of time, and the times that are labelled."""
    zone = ZoneInfo(place.zone)
    samples: list[Sample] = []
    labelled: list[int] = []
    with path.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            if row.get("in_water") == "0":
                continue
            at = parse_time(row["time"], zone)
            if (row.get("label") or "").strip():
                labelled.append(at)
            for name in ("ph", "water"):
                if row[name]:
                    samples.append(Sample(name, at, float(row[name]), at))
    return sorted(samples, key=lambda sample: sample.at), labelled


def report(folder: Path) -> str:
    """All records that are there."""
    text: list[str] = []
    ratios: dict[str, float | None] = {}
    for name, place in PLACES.items():
        path = folder / f"{name}.csv"
        if not path.exists():
            text += [f"{name}: not there, left out", ""]
            continue
        samples, labelled = read(path, place)
        watched = watch(place, samples)
        rows = [(s.at, s.value) for s in samples if s.probe == "ph"]
        found: list[Guess] = guesses(Blocks(rows, labelled), place, watched.forecasts)
        ratios[name] = ratio_at(found, 3)
        weeks = (samples[-1].at - samples[0].at) / DAY_MS / 7
        high = Counter(alarm.name for alarm in watched.alarms if alarm.priority == "high")
        names = ", ".join(f"{n} {alarm}" for alarm, n in high.items()) or "none"
        text += [f"#### {name}", "", section(found), ""]
        text += [f"{weeks:.0f} weeks; high alarms: {names}; given a date: {'yes' if dated(watched) else 'no'}", ""]
    said = ", ".join(f"{name} {'-' if ratio is None else f'{ratio:.2f}'}" for name, ratio in ratios.items())
    return "\n".join([*text, f"Error 3 h after sunset over that of the best simple rule: {said}"])
