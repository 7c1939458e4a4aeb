"""`dawnline logbook import` and `export`: the logbook as a CSV table."""

from __future__ import annotations

import argparse
import io
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from dawnline.cli.ask import actor
from dawnline.cli.in_file import text_of
from dawnline.cli.logbook_book import Book
from dawnline.errors import InputError, SettingsError
from dawnline.logbook import table
from dawnline.logbook.acts import read
from dawnline.logbook.ledger import about
from dawnline.logbook.settle import Habits
from dawnline.service import now_file
from dawnline.settings import Settings
from dawnline.store.inbox import Inbox, inbox_path

PATIENCE_S: Final = 10.0  # machine time without a single verdict
BATCH: Final = 200
LARGEST: Final = 16 << 20  # bytes


def arguments(word: Any) -> None:
    """The arguments of import and export."""
    taking = word(
        "import",
        "take entries from a CSV table",
        "Columns time, kind, and keys as in `logbook add`, units as they may be typed. A bad row is named with its "
        "number and remedy, the good ones are taken. A row of the same time, kind and figures as an entry that stands "
        "already, or as an earlier row, is a double and dropped, so a table may be taken twice.",
    )
    taking.add_argument("csv", metavar="CSV")
    giving = word("export", "write the entries about the pond as a CSV table that import takes")
    giving.add_argument("csv", metavar="CSV", help="the file to write; - for standard output")


def run(args: argparse.Namespace, settings: Settings, habits: Habits) -> int:
    """Run import or export."""
    if args.what == "import":
        return _import(settings, Path(args.csv), habits)
    return _export(settings, args.csv, habits)


def _export(settings: Settings, name: str, habits: Habits) -> int:
    entries = Book.of(settings).in_time()
    if name == "-":
        table.write(entries, sys.stdout, habits)
        return 0
    try:
        with Path(name).open("w", encoding="utf-8", newline="") as into:
            count = table.write(entries, into, habits)
    except OSError as error:
        raise SettingsError(f"{name}: cannot be written: {error.strerror or error}") from None
    print(f"{count} entries written to {name}")
    return 0


def _import(settings: Settings, path: Path, habits: Habits) -> int:
    if not settings.store.path.exists():
        raise InputError(f"{settings.store.path}: there is no store yet; start the service with `dawnline run`")
    lines = _lines(path)
    with Inbox.open(inbox_path(settings.store.path)) as inbox:
        return _Importing(path.name, inbox, _known(settings, inbox)).run(table.read(lines, habits), settings)


def _known(settings: Settings, inbox: Inbox) -> set[str]:
    """What stands in the logbook, or waits to be taken into it."""
    known = {table.same(each.kind, each.body, each.at) for each in Book.of(settings).in_time() if not each.withdrawn}
    for waiting in inbox.pending():
        try:
            entry = read(waiting.kind, waiting.body)
        except InputError:
            continue
        known.add(table.same(waiting.kind, waiting.body, about(entry, 0)))
    return known


class _Importing:
    """One table on its way in."""

    def __init__(self, name: str, inbox: Inbox, known: set[str]) -> None:
        self.name, self.inbox, self.known = name, inbox, known
        self.bad = self.doubles = self.taken = self.refused = 0
        self.waiting: dict[str, int] = {}  # act, row

    def run(self, rows: Iterator[table.Row | table.Problem], settings: Settings) -> int:
        """Put every good row in and say what became of it: 0 where all are in the logbook now."""
        for row in rows:
            if isinstance(row, table.Problem):
                self._say_bad(row.text)
                continue
            mark = table.same(row.kind, row.body, table.when(row))
            if mark in self.known:
                self.doubles += 1
                continue
            if len(self.waiting) >= BATCH and now_file.serves(settings.store.path):
                self._hear()
            try:
                act_id = self.inbox.submit(row.kind, row.body, row.by or actor())
            except InputError as error:
                self._say_bad(f"row {row.number}: not taken, nor any after it: {error}, then import the table again")
                break
            self.known.add(mark)
            self.waiting[act_id] = row.number
        if now_file.serves(settings.store.path):
            self._hear()
        self._sum_up(settings)
        return 1 if self.bad or self.refused or self.waiting else 0

    def _hear(self) -> None:
        """Take the verdicts as they come, as long as they do."""
        until = time.monotonic() + PATIENCE_S
        while self.waiting and time.monotonic() < until:
            heard = {act_id: said for act_id in self.waiting if (said := self.inbox.verdict(act_id)) is not None}
            for act_id, (accepted, text) in heard.items():
                number = self.waiting.pop(act_id)
                self.taken += accepted
                if not accepted:
                    self.refused += 1
                    print(f"{self.name}: row {number}: refused: {text}", file=sys.stderr)
            if heard:
                until = time.monotonic() + PATIENCE_S
            else:
                time.sleep(0.05)

    def _say_bad(self, text: str) -> None:
        self.bad += 1
        print(f"{self.name}: {text}", file=sys.stderr)

    def _sum_up(self, settings: Settings) -> None:
        print(f"{self.taken} taken, {self.doubles} doubles dropped, {self.bad} bad rows, {self.refused} refused")
        if self.waiting:
            running = now_file.serves(settings.store.path)
            why = "has not answered yet" if running else "is not running"
            print(f"{len(self.waiting)} queued: the service {why}; it takes them as soon as it can", file=sys.stderr)


def _lines(path: Path) -> io.StringIO:
    with suppress(OSError):  # what cannot be read is said below
        if path.stat().st_size > LARGEST:
            raise SettingsError(f"{path}: larger than {LARGEST >> 20} MiB: split the file")
    return io.StringIO(text_of(path, "a CSV table of entries", newline=""), newline="")
