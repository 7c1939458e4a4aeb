"""Five years of readings at 10 s on two probes: the file, its start, its check, its copy, its thinning, its compacting.

    PYTHONPATH=daemon:simulator python tests/benchmarks/years.py FOLDER [--years 5] [--keep-days 365]

FOLDER keeps the store of `week_review.py`, which is built where it is not there yet (some minutes); it is copied, and
the copy is thinned. The baseline is a plain table (probe, time, value) without an index, filled with the same readings,
of which the same years are deleted in one statement. Bytes written are those the kernel counts for this process
(`write_bytes` in proc_pid_io(5)); FOLDER must be on a disk. `cold` is with the file dropped from the system's cache.
"""

from __future__ import annotations

import argparse
import shutil
import sqlite3
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from week_review import build, cold

from dawnline.duration import DAY_MS
from dawnline.reading import Flag, Reading, Reason
from dawnline.service.resume import resume
from dawnline.settings import load
from dawnline.store import upkeep
from dawnline.store.batch import Batch
from dawnline.store.store import Store

PROBES = [("ph", "ph"), ("water", "temperature")]


def written() -> int:
    """Bytes this process has had written so far."""
    for line in Path("/proc/self/io").read_text(encoding="ascii").splitlines():
        if line.startswith("write_bytes:"):
            return int(line.split()[1])
    raise RuntimeError("the kernel counts no bytes for us")


def timed(work: Callable[[], Any]) -> tuple[float, float, Any]:
    """Seconds, processor seconds, and what `work` gave."""
    begun, processor = time.perf_counter(), time.process_time()
    found = work()
    return time.perf_counter() - begun, time.process_time() - processor, found


def say(what: str, figure: str) -> None:
    """A row of the table."""
    print(f"{what:<66} {figure}", flush=True)


def start(folder: Path, *, whole: bool) -> None:
    """All that a start reads before it watches."""
    settings = load(folder / "dawnline.toml")
    with Store.open(settings.store.path, PROBES, check=whole) as store:
        store.check_start()
        resume(settings, store)


def plain(path: Path, source: Path) -> float:
    """The baseline's table; returns seconds to fill it."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA page_size = 1024")
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("CREATE TABLE readings (probe INTEGER, at INTEGER, value REAL)")
    db.execute("ATTACH ? AS ours", (str(source),))
    seconds, _, _ = timed(
        lambda: db.execute("INSERT INTO readings SELECT probe, at, value FROM ours.readings ORDER BY at, probe")
    )
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    return seconds


def thin(store: Store, before: int) -> tuple[int, list[float]]:
    """Let everything before that time go; rows, and the seconds of each step."""
    gone, steps = 0, []
    while True:
        seconds, _, step = timed(lambda: store.let_go(before, None))
        if not step.gone:
            return gone, steps
        gone += step.gone
        steps.append(seconds)


def a_day(store: Store, first: int, days: int, keep_ms: int | None) -> float:
    """Megabytes written a day by a commit a minute of two probes at 10 s, with what goes in return."""
    store._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    begun = written()
    for at in range(first, first + days * DAY_MS, 60_000):
        rows = [
            Reading(probe, at + second * 1000, level + second / 1000, at + second * 1000, Flag.GOOD, Reason.NONE)
            for second in range(0, 60, 10)
            for probe, level in (("ph", 7.2), ("water", 18.1))
        ]
        store.commit(Batch(readings=rows, cursor=at))
        if keep_ms is not None and at % DAY_MS == 0:
            while store.let_go(at - keep_ms, None).gone:
                pass
    store._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return (written() - begun) / days / 1e6


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--years", type=float, default=5)
    parser.add_argument("--keep-days", type=int, default=365)
    args = parser.parse_args()
    build(args.folder, args.years)
    source = load(args.folder / "dawnline.toml").store.path
    work = args.folder / "work"
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir()
    shutil.copy(args.folder / "dawnline.toml", work)
    path = load(work / "dawnline.toml").store.path

    seconds, used, _ = timed(lambda: upkeep.backup(source, path))
    rows, last = sqlite3.connect(path).execute("SELECT count(*), max(at) FROM readings").fetchone()
    size = path.stat().st_size
    say("readings", f"{rows:,}")
    say("file", f"{size / 1e6:.0f} MB, {size / rows:.1f} bytes a reading, all tables counted")
    say("backup", f"{seconds:.1f} s ({used:.1f} s processor)")
    filled = plain(work / "plain.db", path)
    bare = (work / "plain.db").stat().st_size
    say(
        "  a plain table of the same readings",
        f"{bare / 1e6:.0f} MB, {bare / rows:.1f} bytes; filled in {filled:.1f} s",
    )

    starts = [timed(lambda: start(work, whole=False))[0] for _ in range(3)]
    cold(path)
    say(
        "start: what is read before the watch begins",
        f"{median(starts):.2f} s; cold {timed(lambda: start(work, whole=False))[0]:.2f} s",
    )
    cold(path)
    seconds, used, _ = timed(lambda: upkeep.verify(path))
    say("check of the whole file, which runs beside the watch, cold", f"{seconds:.1f} s ({used:.1f} s processor)")

    before = last - args.keep_days * DAY_MS
    with Store.open(path, PROBES, check=False) as store:
        begun = written()
        seconds, used, (gone, steps) = timed(lambda: thin(store, before))
        store._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        steps.sort()
        say(
            f"let go all but {args.keep_days} days",
            f"{gone:,} readings in {len(steps)} steps, {seconds:.1f} s ({used:.1f} s processor)",
        )
        middle, late, longest = (1000 * each for each in (median(steps), steps[len(steps) * 99 // 100], steps[-1]))
        say("  a step: median, 99th percentile, longest", f"{middle:.0f}, {late:.0f}, {longest:.0f} ms")
        say(
            "  written for it",
            f"{(written() - begun) / 1e6:.0f} MB, {(written() - begun) / gone:.1f} bytes a reading let go",
        )
        free = store._db.execute("PRAGMA freelist_count").fetchone()[0] * 1024
        say("  file after it", f"{path.stat().st_size / 1e6:.0f} MB, {free / 1e6:.0f} MB of it free for new readings")
    db = sqlite3.connect(work / "plain.db", isolation_level=None)
    begun = written()
    seconds, used, _ = timed(lambda: db.execute("DELETE FROM readings WHERE at < ?", (before,)))
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    say(
        "  the plain table, in one statement",
        f"{seconds:.1f} s ({used:.1f} s processor), {(written() - begun) / 1e6:.0f} MB written",
    )

    with Store.open(path, PROBES, check=False) as store:
        first = last // DAY_MS * DAY_MS + 2 * DAY_MS
        keeps, size = a_day(store, first, 2, None), path.stat().st_size
        goes = a_day(store, first + 3 * DAY_MS, 2, first + 2 * DAY_MS - before)  # a day for a day
        say("written a day: readings alone; with as many that go", f"{keeps:.1f}, {goes:.1f} MB")
        say("  the file grew in the last two days by", f"{(path.stat().st_size - size) / 1e6:.1f} MB")
    seconds, used, (was, now) = timed(lambda: upkeep.compact(path))
    say("compact", f"{seconds:.1f} s ({used:.1f} s processor), {was / 1e6:.0f} to {now / 1e6:.0f} MB")
    shutil.rmtree(work)
    return 0


if __name__ == "__main__":
    sys.exit(main())
