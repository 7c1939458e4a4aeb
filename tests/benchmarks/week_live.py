"""A week through the real service in scaled time, beside a replay of what it stored: the same days and alarms.

    python tests/benchmarks/week_live.py --days 7 --rate 5000

The simulator speaks into a pseudo-terminal, `dawnline run` watches it, `readings --csv` exports the store and
`replay --json` folds it again. Days and alarm transitions must be equal, times and ids included.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from stage import POND, serial

from dawnline.contract import alarm_line, day_line
from dawnline.settings import load
from dawnline.store.reader import Reader

START = "2026-06-04T00:00:00+02:00"
CONFIGURATION = POND + serial("ph", "ph", "probe") + serial("water", "temperature", "probe", 'key = "temp"')


class Compared(NamedTuple):
    """What the live run and the replay gave."""

    readings: int
    days: int
    alarms: int
    differences: list[str]
    seconds: float


def run(scenario: str, days: float, rate: float, seed: int, interval: str) -> Compared:
    """The live run and the replay, compared."""
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="dawnline-week-") as name:
        folder = Path(name)
        config = folder / "dawnline.toml"
        config.write_text(CONFIGURATION.replace('"probe"', f'"{folder / "probe"}"'), encoding="utf-8")
        _live(folder, config, scenario, days, rate, seed, interval)
        live = _live_lines(config)
        again = _again(folder, config)
        with Reader.open(folder / "pond.db") as reader:
            readings = sum(1 for _ in reader.readings("ph", 0, 1 << 60))
    differences = [f"only live: {row}" for row in live if row not in again]
    differences += [f"only in replay: {row}" for row in again if row not in live]
    kinds = [row["event"] for row in live]
    return Compared(readings, kinds.count("day"), kinds.count("alarm"), differences, time.monotonic() - begun)


def _live(folder: Path, config: Path, scenario: str, days: float, rate: float, seed: int, interval: str) -> None:
    """Simulator and service on one clock, until the story ends."""
    origin = time.time() + 2.5
    environment = {**os.environ, "DAWNLINE_CLOCK_RATE": f"{rate:g}@{START}@{origin:.3f}"}
    story = ["--scenario", scenario, "--seed", str(seed), "--days", str(days), "--interval", interval]
    words = [sys.executable, "-m"]
    with (folder / "log").open("wb") as log:
        simulator = subprocess.Popen(
            [*words, "dawnline_simulator", "run", *story, "--pty", str(folder / "probe")],
            env=environment, stdout=subprocess.DEVNULL, stderr=log,
        )  # fmt: skip
        # Not before the probe speaks: of the silence until then a replay of the readings could not know.
        time.sleep(max(0.0, origin + 0.2 - time.time()))
        service = subprocess.Popen(
            [*words, "dawnline.cli", "--config", str(config), "run"],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=log,
        )
        try:
            simulator.wait(timeout=60 + days * 86_400 / rate)
            time.sleep(0.5)
            service.send_signal(signal.SIGTERM)
            if service.wait(timeout=10) != 0:
                raise RuntimeError((folder / "log").read_text()[-3000:])
        finally:
            for process in (simulator, service):
                process.kill()
                process.wait()


def _live_lines(config: Path) -> list[dict[str, Any]]:
    """Days and alarms decided up to the last reading; the watch went on a little longer than the record."""
    settings = load(config)
    zone = settings.pond.zone
    with Reader.open(settings.store.path) as reader:
        last = max(end for _, end in reader.span().values())
        today = datetime.fromtimestamp(last / 1000, zone).date().isoformat()
        days = [day_line(day, zone) for day in reader.days("2026-01-01", "2027-01-01") if day.date < today]
        return days + [alarm_line(each, zone) for each in reader.transitions(0, last, 100_000)]


def _again(folder: Path, config: Path) -> list[dict[str, Any]]:
    """Whole days and alarms of a replay, up to the end of the live record."""
    command = [sys.executable, "-m", "dawnline.cli", "--config", str(config)]
    table = folder / "readings.csv"
    subprocess.run([*command, "readings", "--csv", str(table)], check=True, stdout=subprocess.DEVNULL)
    out = subprocess.run([*command, "replay", "--json", str(table)], check=True, capture_output=True, text=True).stdout
    rows = [json.loads(line) for line in out.splitlines()]
    for row in rows:
        row.pop("version", None)
    return [row for row in rows if row["event"] == "alarm" or (row["event"] == "day" and not row["partial"])]


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scenario", default="buffer-runs-out")
    parser.add_argument("--days", type=float, default=7)
    parser.add_argument("--rate", type=float, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--interval", default="10s")
    args = parser.parse_args()
    result = run(args.scenario, args.days, args.rate, args.seed, args.interval)
    print(
        f"{result.readings} pH readings, {result.days} days, {result.alarms} alarm transitions, {result.seconds:.0f} s"
    )
    print(f"{len(result.differences)} differences between the live run and its replay")
    for difference in result.differences[:10]:
        print("  ", difference)
    return 1 if result.differences else 0


if __name__ == "__main__":
    sys.exit(main())
