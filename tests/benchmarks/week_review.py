"""A week's review out of years of readings at 10 s, beside a plain SQL scan of the same readings in the same run.

    python tests/benchmarks/week_review.py FOLDER [--years 5]

FOLDER keeps the store: it is built once (some minutes, 160 MB a year) and used again. The last ten days are replayed
from the simulator, with all that a replay stores; the years before are written straight into the tables, every day
with its figures and every night with its forecasts. `cold` is with the file dropped from the system's cache. The scan
asks for no more than the lowest, highest and mean of each quarter of an hour in the same three weeks.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from math import cos, pi
from pathlib import Path
from statistics import median

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.event import Day, Forecast
from dawnline.queries.week_of import Span, span_of, week_of
from dawnline.review.report import report
from dawnline.review.week import Week
from dawnline.service.pending import checkpoint_of
from dawnline.service.resume import resume
from dawnline.settings import Settings, load
from dawnline.store import record, rollups
from dawnline.store.batch import Batch
from dawnline.store.reader import Reader
from dawnline.store.store import Store

CONFIG = Path(__file__).parents[2] / "config" / "dawnline.toml"
STEP_MS = 10_000
ROUNDS = 9
REPLAYED_DAYS = 10


def build(folder: Path, years: float) -> None:
    """The store, where it is not there yet."""
    folder.mkdir(parents=True, exist_ok=True)
    text = CONFIG.read_text(encoding="utf-8")
    (folder / "dawnline.toml").write_text(text, encoding="utf-8")
    settings = load(folder / "dawnline.toml")
    store = settings.store.path
    if (folder / "built").exists():
        with Store.open(store, [("ph", "ph"), ("water", "temperature")], check=False) as opened:
            opened.commit(Batch(checkpoint=checkpoint_of(resume(settings, opened))))  # as a service of today leaves it
        return
    for path in folder.glob(f"{store.name}*"):
        path.unlink()
    run("dawnline_simulator", "write", "--scenario", "quiet-week", "--days", str(REPLAYED_DAYS), str(folder / "in.csv"))
    run(
        "dawnline.cli",
        "--config",
        str(folder / "dawnline.toml"),
        "replay",
        str(folder / "in.csv"),
        "--store",
        str(store),
    )
    db = sqlite3.connect(store, isolation_level=None)
    db.execute("PRAGMA synchronous = OFF")
    (first,) = db.execute("SELECT min(at) FROM readings").fetchone()
    start = first - round(years * 365) * DAY_MS
    for begun in range(start, first, 30 * DAY_MS):
        until = min(first, begun + 30 * DAY_MS)
        db.execute("BEGIN")
        for probe in (0, 1):
            db.executemany("INSERT INTO readings VALUES (?,?,0,?,1,0,0)", readings(probe, begun, until))
        db.execute("COMMIT")
        print(f"\rwriting: {(until - start) / (first - start):.0%} ", end="", file=sys.stderr, flush=True)
    db.execute("BEGIN")
    db.execute("DELETE FROM rollups")
    rollups.fill(db)
    on = datetime.fromtimestamp(start / 1000, UTC).date()
    while on < datetime.fromtimestamp(first / 1000, UTC).date():
        midnight = round(datetime(on.year, on.month, on.day, tzinfo=UTC).timestamp() * 1000)
        record.put_days(db, [Day(str(on), "ph", 7.2, midnight + 5 * HOUR_MS, 7.9, midnight + 16 * HOUR_MS, 0.7, 7.5,
                                 0.0, 0.0, 1.0, False)])  # fmt: skip
        record.put_forecasts(db, night(on, midnight))
        on += timedelta(days=1)
    db.execute("COMMIT")
    db.close()
    (folder / "built").touch()
    print("\r\033[K", end="", file=sys.stderr)


def readings(probe: int, start: int, end: int) -> Iterator[tuple[int, int, float]]:
    """A day's rhythm with a little noise."""
    base, swing = ((7.5, 0.35), (18.0, 1.5))[probe]
    for at in range(start, end, STEP_MS):
        noise = (at // STEP_MS * 7919 % 13 - 6) / 600
        yield probe, at, round(base - swing * cos(2 * pi * (at % DAY_MS - 4 * HOUR_MS) / DAY_MS) + noise, 2)


def night(on: date, midnight: int) -> Iterator[Forecast]:
    """What a night of forecasts and a morning leave behind."""
    for minute in range(-5 * 60, 4 * 60, 20):
        at = midnight + minute * 60_000
        low_at = datetime.fromtimestamp((midnight + 4 * HOUR_MS) / 1000, UTC).isoformat()
        body = {"night": str(on), "low": 7.21, "low_p10": 7.12, "low_p90": 7.29, "at": low_at, "probe": "ph",
                "last_lows": [7.2, 7.2, 7.21]}  # fmt: skip
        yield Forecast("tonight", at, body)
    nights = [[str(on - timedelta(days=back)), 7.2, 7.21] for back in range(13, -1, -1)]
    body = {"reaches_low_on": None, "earliest": None, "latest": None, "lead_days": None, "trend": "steady",
            "probe": "ph", "text": "no loss of buffer beyond what a probe wanders by itself"}  # fmt: skip
    yield Forecast("buffer", midnight + 8 * HOUR_MS, body, {"nights": nights, "steps": []})


def run(*words: str) -> None:
    """Run one of our programs."""
    subprocess.run([sys.executable, "-m", *words], check=True, stdout=subprocess.DEVNULL)


def ours(settings: Settings, first: date | None = None, last: date | None = None) -> Week:
    """The week as `review` and the page have it made: the store opened, all computed."""
    with Reader.open(settings.store.path) as reader:
        span = span_of(reader, settings, first, last)
        assert span is not None
        return week_of(reader, settings, span)


def plain(path: Path, stretches: list[tuple[int, int]]) -> int:
    """The same three stretches by SQL over the readings."""
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    rows = 0
    for start, end in stretches:
        for probe in (0, 1):
            rows += len(
                db.execute(
                    "SELECT at / 900000, count(*), min(value), max(value), total(value) FROM readings "
                    "WHERE probe = ? AND at >= ? AND at < ? AND flag = 1 GROUP BY 1",
                    (probe, start, end),
                ).fetchall()
            )
    db.close()
    return rows


def cold(path: Path) -> None:
    """Let the system forget the file."""
    with path.open("rb") as file:
        os.fsync(file.fileno())
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def timed(work: Callable[[], object], before: Callable[[], object] = lambda: None) -> tuple[float, float, float]:
    """The least and the median of some rounds [ms], and the processor's share of the least busy one."""
    times, used = [], []
    for _ in range(ROUNDS):
        before()
        begun, processor = time.perf_counter(), time.process_time()
        work()
        times.append(1000 * (time.perf_counter() - begun))
        used.append(1000 * (time.process_time() - processor))
    return min(times), median(times), min(used)


def stretches_of(span: Span, week: Week) -> list[tuple[int, int]]:
    """The week, the one before and that of a year ago [ms]."""
    start, end = week.stretch.start, min(week.stretch.end, span.newest + 1)
    return [(start - back * DAY_MS, end - back * DAY_MS) for back in (0, 7, 364)]


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--years", type=float, default=5)
    args = parser.parse_args()
    build(args.folder, args.years)
    settings = load(args.folder / "dawnline.toml")
    path = settings.store.path
    with Reader.open(path) as reader:
        span = span_of(reader, settings)
    assert span is not None
    week = ours(settings)
    stretches = stretches_of(span, week)
    past = span.first - timedelta(days=400)
    month, year = (past - timedelta(days=days - 1) for days in (30, 365))
    rows: dict[str, tuple[float, float, float]] = {
        "the last week, with the running day: to data": timed(lambda: ours(settings)),
        "the same, cold": timed(lambda: ours(settings), lambda: cold(path)),
        "a week long ago: to data": timed(lambda: ours(settings, past - timedelta(days=6), past)),
        "30 days: to data": timed(lambda: ours(settings, month, past)),
        "a year: to data": timed(lambda: ours(settings, year, past)),
        "the last week: from data to the report": timed(lambda: report(week)),
        "plain SQL over the readings of the three weeks": timed(lambda: plain(path, stretches)),
        "the same, cold ": timed(lambda: plain(path, stretches), lambda: cold(path)),
    }
    print(f"{path.stat().st_size / 1e6:.0f} MB, {ROUNDS} rounds, {os.cpu_count()} cores")
    print(f"{'':<52}{'least':>10}{'median':>10}{'processor':>12}")
    for name, (least, middle, used) in rows.items():
        print(f"{name:<52}{least:>7.0f} ms{middle:>7.0f} ms{used:>9.0f} ms")
    print(f"report: {len(report(week).encode()) / 1000:.0f} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
