"""The watch on public pH records: which alarms real, healthy waters would have raised.

    python tests/benchmarks/records.py --data DIR

DIR holds CSV files in replay's form (columns time, ph, water; a column in_water = 0 marks rows to leave out). None of
the known records is of a pond that ran out of buffer, so an alarm of high priority is a false one, unless its owners
marked the stretch. The records are not part of this repository.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from dawnline import recording
from dawnline.catalogue_file import shipped
from dawnline.duration import iso
from dawnline.event import Transition
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

WEEK_MS = 7 * 86_400_000
# Name of the file -> latitude, longitude, time zone, as the records' publishers give them.
PLACES = {
    "chalgrove-lake-2019-spring": (37.24, -78.46, "America/New_York"),
    "mashapaug-pond-2025": (41.79, -71.43, "America/New_York"),
    "lake-archer-2024": (42.06, -71.33, "America/New_York"),
    "franklin-basin-2014": (41.95, -111.58, "America/Denver"),
    "mendon-2019": (41.72, -111.85, "America/Denver"),
    "main-street-2017": (41.72, -111.83, "America/Denver"),
}


def rows(path: Path) -> Iterator[str]:
    """The lines of a record, without those taken out of the water."""
    with path.open(encoding="utf-8", newline="") as stream:
        header = next(stream)
        yield header
        names = next(csv.reader([header]))
        out = names.index("in_water") if "in_water" in names else None
        for line in stream:
            if out is None or line.rstrip("\n").split(",")[out] != "0":
                yield line


def watch(path: Path) -> tuple[float, list[Transition]]:
    """Weeks watched, and every alarm raised or escalated."""
    latitude, longitude, zone = PLACES[path.stem]
    pond = PondSettings(name=path.stem, latitude=latitude, longitude=longitude, timezone=zone)
    pipeline = Pipeline(shipped(), pond, [("ph", "ph", None, None), ("water", "temperature", None, None)])
    first, last, found = 0, 0, []
    for item in recording.read(rows(path), ["ph", "water"], pond.zone):
        if isinstance(item, Sample):
            first, last = first or item.at, item.at
            effects = pipeline.step(item)
            found += [e for e in effects if isinstance(e, Transition) and e.change in ("raised", "escalated")]
    return (last - first) / WEEK_MS, found


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", type=Path, required=True, metavar="DIR")
    folder = parser.parse_args().data
    weeks, total = 0.0, Counter[str]()
    for name in PLACES:
        path = folder / f"{name}.csv"
        if not path.exists():
            print(f"{name}: not there, left out")
            continue
        span, found = watch(path)
        weeks += span
        total.update(each.alarm for each in found)
        counts = ", ".join(f"{n} {alarm}" for alarm, n in Counter(each.alarm for each in found).items())
        print(f"{name}: {span:.1f} weeks: {counts or 'nothing'}")
        for each in found:
            if each.priority == "high":
                print(f"    {iso(each.at)[:16]}  {each.alarm}: {each.text}")
    print(f"together {weeks:.0f} weeks: " + (", ".join(f"{n} {alarm}" for alarm, n in total.items()) or "nothing"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
