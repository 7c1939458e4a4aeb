"""What the page costs: time to the first byte, bytes sent, memory and processor, on a store of years.

    python tests/benchmarks/page.py FOLDER

FOLDER keeps the store that `week_review.py FOLDER` builds. Beside the page stands a plain SQL scan of the same weeks.
Then many visitors come at once, again and again, and its memory is read while they are there and when they have gone.
"""

from __future__ import annotations

import argparse
import http.client
import subprocess
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC
from pathlib import Path
from statistics import median
from urllib.parse import urlencode

from week_review import cold, ours, plain, stretches_of

from dawnline.duration import HOUR_MS, iso
from dawnline.queries.week_of import span_of
from dawnline.settings import load
from dawnline.store.reader import Reader

ROUNDS = 5
VISITORS, VISITS = 16, 20
TARGET_MB = 70


def get(port: int, path: str) -> tuple[float, int]:
    """Time to the first byte [ms], and bytes."""
    begun = time.perf_counter()
    there = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    there.request("GET", path)
    answer = there.getresponse()
    first = 1000 * (time.perf_counter() - begun)
    size = len(answer.read())
    there.close()
    if answer.status != 200:
        raise SystemExit(f"{path}: {answer.status}")
    return first, size


def resident_mb(pid: int) -> float:
    """Memory of a process [MB]."""
    lines = Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def crowd(port: int, pid: int, paths: Sequence[str]) -> tuple[float, float]:
    """Many visitors at once, each looking at page after page: the most memory meanwhile [MB], and how long it took."""
    begun, most = time.perf_counter(), 0.0

    def visit(number: int) -> None:
        for turn in range(VISITS):
            get(port, paths[(number + turn) % len(paths)])

    with ThreadPoolExecutor(VISITORS) as visitors:
        under_way = [visitors.submit(visit, number) for number in range(VISITORS)]
        while not all(each.done() for each in under_way):
            most = max(most, resident_mb(pid))
            time.sleep(0.05)
        for each in under_way:
            each.result()
    return most, time.perf_counter() - begun


def ticks(pid: int) -> int:
    """Processor time of a process, in the system's ticks."""
    return sum(map(int, Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[11:13]))


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    config = parser.parse_args().folder / "dawnline.toml"
    settings = load(config)
    store, port = settings.store.path, settings.page.port
    page = subprocess.Popen([sys.executable, "-m", "dawnline.cli", "--config", str(config), "page"])
    try:
        while True:
            try:
                get(port, "/sign-in")
                break
            except OSError:
                time.sleep(0.1)
        with Reader.open(store) as reader:
            span = span_of(reader, settings)
        assert span is not None
        hour = iso(span.newest - 40 * HOUR_MS, UTC), iso(span.newest - 39 * HOUR_MS, UTC)
        close = f"/close-up?{urlencode(dict(zip(('from', 'to'), hour, strict=True)))}"
        print(f"{'resident at the start':<40}{resident_mb(page.pid):>7.0f} MB")
        for path, forget in (
            ("/", False),
            ("/days", False),
            ("/days", True),
            ("/alarms", False),
            (close, False),
            (close, True),
        ):
            times, size = [], 0
            for _ in range(ROUNDS):
                if forget:
                    cold(store)
                first, size = get(port, path)
                times.append(first)
            name = path.partition("?")[0] + (", cold" if forget else "")
            print(f"{name:<40}{min(times):>7.0f} ms{median(times):>7.0f} ms (median) {size / 1000:>7.0f} kB")
        stretches = stretches_of(span, ours(settings))
        for name in ("plain SQL over three weeks", "the same, cold"):
            if "cold" in name:
                cold(store)
            begun = time.perf_counter()
            plain(store, stretches)
            print(f"{name:<40}{1000 * (time.perf_counter() - begun):>7.0f} ms")
        print(f"{'resident after all that':<40}{resident_mb(page.pid):>7.0f} MB, target {TARGET_MB} MB")
        for times_round in ("first", "again"):
            most, seconds = crowd(port, page.pid, ("/", "/days", "/alarms", close, "/logbook", "/probes"))
            name = f"{VISITORS} visitors at once, {times_round}"
            print(f"{name:<40}{most:>7.0f} MB at most, {VISITORS * VISITS / seconds:.0f} pages/s")
        time.sleep(12)
        print(f"{'resident when they have gone':<40}{resident_mb(page.pid):>7.0f} MB, target {TARGET_MB} MB")
        before = ticks(page.pid)
        time.sleep(10)
        print(f"{'processor in ten idle seconds':<40}{ticks(page.pid) - before:>7} ticks")
    finally:
        page.terminate()
        page.wait()
    return 0


if __name__ == "__main__":
    sys.exit(main())
