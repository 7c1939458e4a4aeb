"""`dawnline readings`: readings out of the store, in replay's form."""

from __future__ import annotations

import argparse
import heapq
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from operator import itemgetter
from pathlib import Path
from typing import TextIO

from dawnline import recording
from dawnline.cli.moment import span
from dawnline.cli.out_file import not_of_the_pond
from dawnline.duration import iso
from dawnline.errors import SettingsError
from dawnline.reading import Reason
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
    start, end = span(args.start, args.end, settings.pond.zone)
    with ExitStack() as stack:
        reader = stack.enter_context(Reader.open(settings.store.path))
        out = sys.stdout if args.csv == "-" else stack.enter_context(_create(Path(args.csv), settings))
        names = list(dict.fromkeys([*(probe.name for probe in settings.probes), *reader.span()]))
        kept = max(reader.raw_since(name) for name in names) if names else 0
        if start < kept:
            print(
                f"readings before {iso(kept, settings.pond.zone)} were let go ([store] keep_raw): the record has "
                "their quarters of an hour; `dawnline review` shows those",
                file=sys.stderr,
            )
        rows = 0
        for row in recording.write(_merged(reader, names, start, end), names, settings.pond.zone):
            out.write(row + "\n")
            rows += 1
    if args.csv != "-":
        print(f"{rows - 1} rows written to {args.csv}")
    return 0


def _merged(reader: Reader, names: list[str], start: int, end: int) -> Iterator[tuple[str, int, float]]:
    """Readings of all probes in order of time; at one time in the order of the configuration."""

    def of(place: int, name: str) -> Iterator[tuple[int, int, float]]:
        for reading in reader.readings(name, start, end):
            if reading.reason != Reason.AHEAD_OF_CLOCK:  # in replay's form nothing would tell it from a true one
                yield reading.at, place, reading.value

    for at, place, value in heapq.merge(*(of(place, name) for place, name in enumerate(names)), key=itemgetter(0, 1)):
        yield names[place], at, value


def _create(path: Path, settings: Settings) -> TextIO:
    """The file to write. Raises SettingsError where it cannot be, or must not: it would take the pond's own place."""
    not_of_the_pond(path, settings)
    try:
        return path.open("w", encoding="utf-8", newline="")
    except OSError as error:
        raise SettingsError(f"{path}: cannot be written ({error.strerror}); name another file") from None
