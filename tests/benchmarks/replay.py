"""Replay of a simulated week at 10 s on pH and temperature (121 k readings), alone and with a store.

    python tests/benchmarks/replay.py

The store is set beside bare `executemany` of the same rows in transactions of 12 (WAL, FULL), in the same run. Whole
commands find their modules compiled, as pip leaves them.
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from dawnline import recording
from dawnline.catalogue_file import shipped
from dawnline.outlook.settings import PondSettings
from dawnline.pipeline import Pipeline
from dawnline.reading import Sample

ROUNDS = 3
CONFIG = Path(__file__).parents[2] / "config" / "dawnline.toml"
ZONE = ZoneInfo("Europe/Berlin")


def best(work: Callable[[], object]) -> float:
    """The shortest of some rounds [s]."""
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)


def run(*words: str) -> None:
    """Run one of our programs, its modules compiled where an installation would have them so."""
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}
    subprocess.run([sys.executable, "-m", *words], check=True, stdout=subprocess.DEVNULL, env=environment)


def bare(path: Path, samples: list[Sample]) -> None:
    """The same rows into a table of the same shape, twelve a transaction."""
    path.unlink(missing_ok=True)
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA page_size = 1024")
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute(
        "CREATE TABLE reading (probe INTEGER, at INTEGER, n INTEGER, value REAL, flag INTEGER, reason INTEGER, "
        "late INTEGER, PRIMARY KEY (probe, at, n)) STRICT, WITHOUT ROWID"
    )
    rows = [(0 if s.probe == "ph" else 1, s.at, 0, s.value, 1, 0, 0) for s in samples]
    for start in range(0, len(rows), 12):
        db.execute("BEGIN")
        db.executemany("INSERT INTO reading VALUES (?,?,?,?,?,?,?)", rows[start : start + 12])
        db.execute("COMMIT")
    db.close()


def fold(samples: list[Sample]) -> None:
    """The fold alone."""
    pond = PondSettings(name="Heron Lane", latitude=47.95, longitude=8.21, timezone="Europe/Berlin")
    pipeline = Pipeline(shipped(), pond, [("ph", "ph", None, None), ("water", "temperature", None, None)])
    for sample in samples:
        pipeline.step(sample)


def main() -> int:
    """Print the table."""
    with tempfile.TemporaryDirectory(prefix="dawnline-replay-") as name:
        folder = Path(name)
        table, store = folder / "week.csv", folder / "pond.db"
        run("dawnline_simulator", "write", "--scenario", "quiet-week", "--days", "7", str(table))
        lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
        samples = [item for item in recording.read(lines, ["ph", "water"], ZONE) if isinstance(item, Sample)]
        replay = ("dawnline.cli", "--config", str(CONFIG), "replay", "--json", str(table))

        def with_store() -> None:
            for path in folder.glob("pond.db*"):
                path.unlink()
            run(*replay, "--store", str(store))

        rows = {
            "start of the program alone (`dawnline --version`)": best(lambda: run("dawnline.cli", "--version")),
            "the fold alone": best(lambda: fold(samples)),
            "replay, whole command": best(lambda: run(*replay)),
            "replay --store, whole command": best(with_store),
            "bare executemany, 12 rows a transaction": best(lambda: bare(folder / "bare.db", samples)),
        }
    _, _, alone, stored, baseline = rows.values()
    print(f"{len(samples)} readings, best of {ROUNDS}, {os.cpu_count()} cores")
    print(f"{'':<52}{'time':>8}{'of bare executemany':>22}")
    for what, seconds in rows.items():
        print(f"{what:<52}{seconds:6.2f} s{seconds / baseline:22.2f}")
    print(f"{'what the store adds to replay':<52}{stored - alone:6.2f} s{(stored - alone) / baseline:22.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
