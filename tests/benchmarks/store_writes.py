"""What storing costs: time against bare `executemany`, and bytes written, both in this run.

    PYTHONPATH=daemon python tests/benchmarks/store_writes.py [FOLDER]

FOLDER (default: the current one) should be on the disk that is asked about; a memory file system shows no
bytes.
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from dawnline.reading import Flag, Reading, Reason
from dawnline.store.batch import Batch
from dawnline.store.state import StoredCheckpoint
from dawnline.store.store import Store

PROBES = [("ph", "ph"), ("water", "temperature")]
START, STEP_MS = 1_780_000_000_000, 10_000
ROWS = 2 * 7 * 86_400 // 10  # two probes, a week at 10 s
ROWS_A_COMMIT = 12  # two probes at 10 s, committed each minute
READINGS_A_DAY = 17_280
ROUNDS = 3


def values() -> list[tuple[int, int, float]]:
    """(probe, at, value), the probes by turns, no two neighbours alike."""
    return [(i % 2, START + i // 2 * STEP_MS, 7.2 + i % 97 / 100) for i in range(ROWS)]


def bare(folder: Path, page_size: int) -> Callable[[], None]:
    """The yardstick: tuples made beforehand, one table, no index, nothing else in the transaction."""
    db = sqlite3.connect(folder / f"bare{page_size}.db", isolation_level=None)
    for pragma in (f"page_size = {page_size}", "journal_mode = WAL", "synchronous = FULL"):
        db.execute(f"PRAGMA {pragma}")
    db.execute(
        "CREATE TABLE readings (probe INTEGER, at INTEGER, n INTEGER, value REAL, flag INTEGER, "
        "reason INTEGER, late INTEGER, PRIMARY KEY (probe, at, n)) WITHOUT ROWID"
    )
    rows = [(probe, at, 0, value, 1, 0, 0) for probe, at, value in values()]

    def run() -> None:
        for i in range(0, ROWS, ROWS_A_COMMIT):
            db.execute("BEGIN")
            db.executemany("INSERT INTO readings VALUES (?,?,?,?,?,?,?)", rows[i : i + ROWS_A_COMMIT])
            db.execute("COMMIT")
        db.close()

    return run


def ours(folder: Path) -> Callable[[], None]:
    """The store as the service and `replay --store` use it: readings and a cursor in each commit."""
    store = Store.open(folder / "ours.db", PROBES)
    rows = readings()

    def run() -> None:
        for i in range(0, ROWS, ROWS_A_COMMIT):
            part = rows[i : i + ROWS_A_COMMIT]
            store.commit(Batch(readings=part, cursor=part[-1].at))
        store.close()

    return run


def readings() -> list[Reading]:
    """The same values as readings."""
    return [Reading(PROBES[p][0], at, value, at, Flag.GOOD, Reason.NONE) for p, at, value in values()]


def seconds(run: Callable[[], None]) -> float:
    """How long it takes."""
    begin = time.perf_counter()
    run()
    return time.perf_counter() - begin


def written() -> tuple[int, int]:
    """Bytes this process gave to the system, and bytes of pages it made the system write."""
    fields = dict(line.split(": ") for line in Path("/proc/self/io").read_text(encoding="ascii").splitlines())
    return int(fields["wchar"]), int(fields["write_bytes"])


def show_times(folder: Path) -> None:
    """The ratio table."""
    makers: dict[str, Callable[[Path], Callable[[], None]]] = {
        "bare executemany, 4096-byte pages": lambda where: bare(where, 4096),
        "bare executemany, 1024-byte pages": lambda where: bare(where, 1024),
        "store": ours,
    }
    taken: dict[str, list[float]] = {name: [] for name in makers}
    for _ in range(ROUNDS):
        for name, make in makers.items():  # by turns, so that a busy machine is unkind to all
            with tempfile.TemporaryDirectory(dir=folder) as fresh:
                taken[name].append(seconds(make(Path(fresh))))
    yardstick = statistics.median(taken["bare executemany, 4096-byte pages"])
    print(f"{ROWS} readings in transactions of {ROWS_A_COMMIT}, WAL, FULL; median of {ROUNDS}")
    for name, times in taken.items():
        middle = statistics.median(times)
        print(f"  {name:36} {middle:6.2f} s  {ROWS / middle:9.0f}/s  ratio {middle / yardstick:5.2f}")


def show_bytes(folder: Path) -> None:
    """Bytes a reading, and what a day comes to, alone and with a checkpoint of 200 kB an hour."""
    text = "".join(f'{{"night":{i},"low":{7 + i % 89 / 100}}},' for i in range(7_000))
    plain = Batch()
    hourly = Batch(checkpoint=StoredCheckpoint(1, START, text), alarm_memory=text[:3_000])
    rows = readings()[: 3 * READINGS_A_DAY]
    print(f"written, after {len(rows)} readings in commits of {ROWS_A_COMMIT} (back to back)")
    for name, extra in (("readings and cursor", plain), ("with an hourly checkpoint of 200 kB", hourly)):
        with (
            tempfile.TemporaryDirectory(dir=folder) as fresh,
            Store.open(Path(fresh) / "s.db", PROBES) as store,
        ):
            before = written()
            for i in range(0, len(rows), ROWS_A_COMMIT):
                part = rows[i : i + ROWS_A_COMMIT]
                more = extra if i // ROWS_A_COMMIT % 60 == 59 else plain
                store.commit(
                    Batch(
                        readings=part,
                        cursor=part[-1].at,
                        checkpoint=more.checkpoint,
                        alarm_memory=more.alarm_memory,
                    )
                )
            sizes = [(after - first) / len(rows) for first, after in zip(before, written(), strict=True)]
        for kind, size in zip(("given to the system", "pages made dirty"), sizes, strict=True):
            print(f"  {name:36} {kind:20} {size:6.0f} B/reading  {size * READINGS_A_DAY / 1e6:6.1f} MB/day")


if __name__ == "__main__":
    where = Path(sys.argv[1] if len(sys.argv) > 1 else ".")
    show_times(where)
    show_bytes(where)
