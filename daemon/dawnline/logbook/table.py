"""The logbook as a table: header `time`, `kind`, and a column for each key that an entry may have.

Written with the keys that name their units; read with these or with any key and unit that may be typed. A text that a
spreadsheet would take for a formula is written with an apostrophe before it, which reading takes off again.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple, Protocol

from dawnline.duration import iso, parse_instant
from dawnline.errors import InputError, SettingsError
from dawnline.logbook.acts import POND_KINDS, PROBE_KINDS
from dawnline.logbook.ledger import LogEntry
from dawnline.logbook.settle import WORDS, Habits, settle
from dawnline.logbook.words import printable
from dawnline.typed.say import keys, nearest, short

FIRST: Final = ("time", "kind", "by")
LONGEST_CELL: Final = 4000  # characters, as the next
LONGEST_NAME: Final = 80
MOST_ROWS: Final = 100_000
_FORMULA: Final = re.compile(r"'*[=+\-@\t\r]")


class Row(NamedTuple):
    """One row that reads as an entry: its number in the file, its kind, its body with `when`, and who wrote it."""

    number: int
    kind: str
    body: dict[str, Any]
    by: str


class Problem(NamedTuple):
    """One row that does not, with the remedy."""

    number: int
    text: str


class _Writer(Protocol):
    def write(self, text: str, /) -> Any: ...


def write(entries: Iterable[LogEntry], into: _Writer, habits: Habits) -> int:
    """Write the entries that stand; gives their number."""
    stood = [each for each in entries if not each.withdrawn]
    used = {key for each in stood for key in each.body} - {"when"}
    columns = [key for key in _columns() if key in used]
    table = csv.writer(into)  # ends its lines as RFC 4180 asks, and so quotes either end within a text
    table.writerow([*FIRST, *columns])
    for each in stood:
        cells = [_cell(each.body.get(key)) for key in columns]
        table.writerow([iso(each.at, habits.zone), each.kind, _cell(each.act.actor), *cells])
    return len(stood)


def read(lines: Iterable[str], habits: Habits) -> Iterator[Row | Problem]:
    """The rows of a table, each an entry or what is wrong with it; row 1 is the header.

    Raises SettingsError where the header cannot be used.
    """
    rows = csv.reader(lines, strict=True)
    header = _header(rows)
    number = 1
    while True:
        number += 1
        try:
            cells = next(rows)
        except StopIteration:
            return
        except csv.Error as error:
            yield Problem(number, f"row {number}: {error}: write each entry on a line of its own, quotes closed")
            continue
        if number > MOST_ROWS:
            yield Problem(number, f"row {number}: more than {MOST_ROWS} rows: split the file; the rest is not read")
            return
        if any(cell.strip() for cell in cells):
            yield _row(number, header, cells, habits)


def same(kind: str, body: Mapping[str, Any], at: int) -> str:
    """What makes two entries the same: time, kind and all that they say. Who wrote it and when does not count."""
    said = {key: value for key, value in body.items() if key != "when"}
    numbers = {key: float(value) if _is_number(value) else value for key, value in said.items()}
    return json.dumps([at // 1000, kind, numbers], sort_keys=True)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _columns() -> list[str]:
    return list(dict.fromkeys(key for model in POND_KINDS.values() for key in keys(model)))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if _FORMULA.match(value) else value
    return repr(value) if isinstance(value, float) else str(value)


def _text(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def _header(rows: Iterator[list[str]]) -> list[str]:
    try:
        header = [name.strip() for name in next(rows)]
    except (StopIteration, csv.Error):
        raise SettingsError("row 1: found no header, expected time,kind and the keys of the entries") from None
    missing = [name for name in ("time", "kind") if name not in header]
    if missing:
        raise SettingsError(f"row 1: no column {missing[0]!r}, expected time,kind and the keys of the entries")
    double = next((name for name in header if name and header.count(name) > 1), None)
    if double is not None:
        raise SettingsError(f"row 1: two columns {short(double)}, expected each once")
    return header


def _row(number: int, header: list[str], cells: list[str], habits: Habits) -> Row | Problem:
    try:
        return _entry(number, header, cells, habits)
    except InputError as error:
        return Problem(number, f"row {number}: {error}")


def _entry(number: int, header: list[str], cells: list[str], habits: Habits) -> Row:
    if len(cells) > len(header):
        raise InputError(f"{len(cells)} cells under {len(header)} columns: put texts with commas in quotes")
    found = {name: cell for name, cell in zip(header, cells, strict=False) if cell.strip() and name}
    if any(len(cell) > LONGEST_CELL for cell in found.values()):
        raise InputError(f"a cell of more than {LONGEST_CELL} characters: shorten it")
    time, kind, by = (found.pop(name, "").strip() for name in FIRST)
    if not time or not kind:
        raise InputError(f"found no {'kind' if time else 'time'}, expected one in each row")
    if WORDS.get(kind, (kind,))[0] not in POND_KINDS:
        raise InputError(_no_kind(kind))
    typed = {key: _text(cell) for key, cell in found.items()}
    settled, body = settle(kind, {**typed, "when": time}, habits)
    return Row(number, settled, body, printable(_text(by))[:LONGEST_NAME])


def _no_kind(kind: str) -> str:
    if kind in PROBE_KINDS:
        return (
            f"{kind}: what was done at a probe is not taken from a table: `dawnline probes` and `logbook add` keep it"
        )
    return f"unknown kind {short(kind)}; {nearest(kind, [*POND_KINDS, *WORDS])}"


def when(row: Row) -> int:
    """The time a row is about [ms]."""
    return parse_instant(row.body["when"])
