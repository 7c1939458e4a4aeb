"""`dawnline readings`: readings out of the store, in replay's form."""

from __future__ import annotations

import argparse
import heapq
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import datetime, timedelta
from operator import itemgetter
from pathlib import Path
from typing import TextIO

from dawnline import recording
from dawnline.duration import parse_time
from dawnline.errors import SettingsError
from dawnline.settings import Settings, find_config, load
from dawnline.store.reader import Reader


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument("--from", dest="start", metavar="TIME", help="from this time on (ISO 8601, or a date)")
    parser.add_argument("--to", dest="end", metavar="TIME", help="up to this time, not included; a date: its end")
    parser.add_argument("--csv", metavar="OUT", required=True, help="the file to write; - for standard output")


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    start = moment(args.start, settings, late=False) if args.start else 0
    end = moment(args.end, settings, late=True) if args.end else 1 << 53
    with ExitStack() as stack:
        reader = stack.enter_context(Reader.open(settings.store.path))
        out = sys.stdout if args.csv == "-" else stack.enter_context(_create(Path(args.csv)))
        names = [probe.name for probe in settings.probes]
        rows = 0
        for row in recording.write(_merged(reader, names, start, end), names, settings.pond.zone):
            out.write(row + "\n")
            rows += 1
    if args.csv != "-":
        print(f"{rows - 1} rows written to {args.csv}")
    return 0


def moment(text: str, settings: Settings, *, late: bool) -> int:
    """A time, or a date: its local midnight or, `late`, the midnight that ends it. Raises SettingsError."""
    zone = settings.pond.zone
    try:
        if len(text) == len("2026-06-03"):
            day = datetime.fromisoformat(text).replace(tzinfo=zone)
            return round((day + timedelta(days=1) if late else day).timestamp() * 1000)
        return parse_time(text, zone)
    except ValueError as error:
        raise SettingsError(f"{text!r}: expected a date or an ISO 8601 time ({error})") from None


def _merged(reader: Reader, names: list[str], start: int, end: int) -> Iterator[tuple[str, int, float]]:
    """Readings of all probes in order of time; at one time in the order of the configuration."""

    def of(place: int, name: str) -> Iterator[tuple[int, int, float]]:
        for reading in reader.readings(name, start, end):
            yield reading.at, place, reading.value

    for at, place, value in heapq.merge(*(of(place, name) for place, name in enumerate(names)), key=itemgetter(0, 1)):
        yield names[place], at, value


def _create(path: Path) -> TextIO:
    try:
        return path.open("w", encoding="utf-8", newline="")
    except OSError as error:
        raise SettingsError(f"{path}: cannot be written ({error.strerror}); name another file") from None
