"""The logbook out of the store: its entries with their numbers, listed; an entry found, corrected, withdrawn."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from typing import Any

from dawnline.cli.ask import ask
from dawnline.duration import day_and_time, iso
from dawnline.errors import InputError, SettingsError
from dawnline.event import Act
from dawnline.logbook.acts import AMENDING, POND_KINDS, read
from dawnline.logbook.ledger import LogEntry, ledger
from dawnline.logbook.settle import Habits, amend, pairs
from dawnline.logbook.words import line, printable
from dawnline.settings import Settings
from dawnline.store.reader import Reader
from dawnline.store.record import ActRow
from dawnline.typed.quantity import Units


class Book:
    """All acts of a store, read once."""

    def __init__(self, rows: Sequence[ActRow], settings: Settings) -> None:
        self.rows = sorted(rows, key=lambda row: row.number)
        self.zone, self.units = settings.pond.zone, settings.pond.units
        self.numbers = {row.act.id: row.number for row in self.rows}
        self.entries = {each.act.id: each for each in ledger(row.act for row in self.rows if row.accepted)}

    @classmethod
    def of(cls, settings: Settings) -> Book:
        """The logbook of this pond. Raises StoreError where there is no store."""
        with Reader.open(settings.store.path) as reader:
            return cls(reader.acts(), settings)

    def find(self, word: str) -> LogEntry:
        """The entry of a number in the list, or of its id; a correction's number leads to what it corrects.

        Raises SettingsError.
        """
        row = next((row for row in self.rows if word in {str(row.number), row.act.id}), None)
        if row is None:
            raise SettingsError(f"found no entry {word!r}: `dawnline logbook list` shows their numbers")
        act_id = str(row.act.body.get("entry", "")) if row.act.kind in AMENDING else row.act.id
        entry = self.entries.get(act_id)
        if entry is None:
            why = "was refused" if not row.accepted else f"is of kind {row.act.kind}"
            raise SettingsError(f"entry {word} {why}; only what was noted about the pond can be corrected")
        return entry

    def in_time(self) -> list[LogEntry]:
        """The entries about the pond by the time they are about, withdrawn ones too."""
        return sorted(self.entries.values(), key=lambda each: each.at)

    def listed(self, start: int, end: int, *, history: bool) -> list[tuple[int, ActRow, LogEntry | None]]:
        """Time, act and, where it is about the pond, the entry as it stands, by time. Amendments are part of those."""
        found = [
            (row.act.at if entry is None else entry.at, row, entry)
            for row in self.rows
            if row.act.kind not in AMENDING or not row.accepted
            for entry in [self.entries.get(row.act.id)]
            if entry is None or history or not entry.withdrawn
        ]
        return sorted((each for each in found if start <= each[0] < end), key=lambda each: (each[0], each[1].number))


def show(book: Book, start: int, end: int, *, history: bool, as_json: bool) -> None:
    """Print the list."""
    if as_json:
        print(json.dumps({"version": 1, "units": book.units}))
    rows = book.listed(start, end, history=history)
    if not rows and not as_json:
        print("nothing is written down for these days; `dawnline logbook kinds` shows what can be", file=sys.stderr)
    for at, row, entry in rows:
        if as_json:
            print(json.dumps(_object(book, at, row, entry), ensure_ascii=False))
            continue
        print(f"{day_and_time(at, book.zone)}  {row.number:>4}  {_line(row, entry, book.units)}")
        if history and entry is not None:
            for act in entry.history:
                print(f"{'':22}{book.numbers[act.id]:>4}  {day_and_time(act.at, book.zone)}: {_later(act, book.units)}")


def correct(settings: Settings, word: str, words: Sequence[str], habits: Habits) -> int:
    """Ask the service to take a correction: the pairs take the place of what the entry says; KEY= takes it out."""
    entry = Book.of(settings).find(word)
    try:
        typed = pairs(entry.kind, words)
        if not typed:
            raise InputError("expected what is to be corrected, KEY=VALUE; KEY= takes a key out")  # noqa: TRY301
        _, body = amend(entry.kind, entry.body, typed, habits)
    except InputError as error:
        raise SettingsError(str(error)) from None
    said = {"entry": entry.act.id, "kind": entry.kind, "at": iso(entry.act.at, settings.pond.zone), "body": body}
    status = ask(settings, "correct", said)
    if status == 0:
        print(f"now: {line(entry.kind, read(entry.kind, body), settings.pond.units)}")
    return status


def withdraw(settings: Settings, word: str, why: str | None) -> int:
    """Ask the service to take an entry back."""
    entry = Book.of(settings).find(word)
    if entry.withdrawn:
        raise SettingsError(f"entry {word} is withdrawn already; `logbook correct` brings it back")
    body: dict[str, Any] = {"entry": entry.act.id, "at": iso(entry.act.at, settings.pond.zone)}
    return ask(settings, "withdraw", body | ({"note": why} if why else {}))


def arguments(word: Any) -> None:
    """The arguments of list, correct and withdraw."""
    listing = word("list", "list entries as they stand, with their numbers")
    listing.add_argument("--from", dest="start", metavar="DATE", help="from this day on")
    listing.add_argument("--to", dest="end", metavar="DATE", help="up to the end of this day")
    listing.add_argument("--history", action="store_true", help="with every correction, and what was withdrawn")
    listing.add_argument("--json", action="store_true", help="one object a line, keys as in replay's acts")
    again = word(
        "correct", "correct an entry about the pond", "What was written before stays in the history."
    )  # fmt: skip
    again.add_argument("id", metavar="ID", help="its number in the list")
    again.add_argument("pairs", metavar="KEY=VALUE", nargs="*", help='what is right, such as kh="5 drops"; KEY= for no')
    back = word("withdraw", "withdraw an entry about the pond", "It stays in the history; `correct` brings it back.")
    back.add_argument("id", metavar="ID", help="its number in the list")
    back.add_argument("--why", metavar="TEXT", help="kept with it")


def run(args: argparse.Namespace, settings: Settings, habits: Habits) -> int:
    """Run correct or withdraw."""
    if args.what == "correct":
        return correct(settings, args.id, args.pairs, habits)
    return withdraw(settings, args.id, args.why)


def _line(row: ActRow, entry: LogEntry | None, units: Units) -> str:
    """One entry in a line; what somebody wrote cannot break out of it, nor paint the terminal."""
    if entry is not None:
        mark = "  withdrawn" if entry.withdrawn else "  (corrected)" if entry.history else ""
        return f"{entry.text(units)}{_by(row.act)}{mark}"
    refused = "" if row.accepted else printable(f"  refused: {row.text}")
    try:
        said = line(row.act.kind, read(row.act.kind, row.act.body), units)
    except InputError:  # refused, or of another version
        said = printable(f"{row.act.kind} " + " ".join(f"{key}={value}" for key, value in row.act.body.items()))
    return f"{said}{_by(row.act)}{refused}"


def _later(act: Act, units: Units) -> str:
    """What was said of an entry later."""
    said = "withdrawn" if act.kind == "withdraw" else f"corrected to {line(act.body['kind'], _corrected(act), units)}"
    return f"{said}{_by(act)}{_reason(act)}"


def _by(act: Act) -> str:
    return printable(f" ({act.actor})") if act.actor else ""


def _reason(act: Act) -> str:
    note = act.body.get("note")
    return printable(f": {note}") if note else ""


def _corrected(act: Act) -> Any:
    return POND_KINDS[act.body["kind"]].model_validate(act.body["body"])


def _object(book: Book, at: int, row: ActRow, entry: LogEntry | None) -> dict[str, Any]:
    zone = book.zone
    body = {key: value for key, value in (row.act.body if entry is None else entry.body).items() if key != "when"}
    found: dict[str, Any] = {
        "entry": row.number, "time": iso(at, zone), "entered": iso(row.act.at, zone), "by": row.act.actor,
        "accepted": row.accepted, "withdrawn": entry is not None and entry.withdrawn,
        "corrections": 0 if entry is None else len(entry.history), "text": _line(row, entry, book.units),
        "act": row.act.kind, "act_id": row.act.id,
    }  # fmt: skip
    return {**found, "says": body}
