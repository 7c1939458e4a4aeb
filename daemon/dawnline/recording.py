"""The replay form: recorded readings as CSV, read and written here and nowhere else.

Header `time` and one column a probe; ISO 8601 times with offset or `Z`, or the pond's local time; an empty cell is no
reading. What cannot be used is said with its row (the header is row 1) and loses nothing else.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, tzinfo
from itertools import islice
from typing import Final, NamedTuple, TypeAlias

from dawnline.duration import DAY_MS, END_MS, HOUR_MS, iso
from dawnline.errors import InputError, SettingsError
from dawnline.reading import Sample

LEAP_MS: Final = DAY_MS
SLIP_MS: Final = 366 * DAY_MS
_COMMA: Final = re.compile(r"[+-]?\d+,\d+")  # a decimal comma
_MARKS: Final = {";": ", not semicolons", "\t": ", not tabs"}  # by which other programs part columns


class RowProblem(NamedTuple):
    """Something in the file that cannot be used; `harmless` where nothing was lost that belongs to a probe."""

    row: int
    text: str
    harmless: bool = False


class _Row(NamedTuple):
    number: int
    at: int
    cells: list[str]


Item: TypeAlias = Sample | RowProblem


def read(lines: Iterable[str], probes: Sequence[str], zone: tzinfo) -> Iterator[Item]:
    """The samples of a recording, in the order of its rows, received as they were measured.

    Raises SettingsError where the header cannot be used at all.
    """
    rows = csv.reader(_each_by_itself(lines), strict=True)
    header, columns, ignored = _header(rows, probes)
    if ignored:
        names = ", ".join(repr(name) for name in ignored)
        yield RowProblem(1, f"no probe is named {names}; ignored; there are: {', '.join(probes)}", harmless=True)
    newest = 0
    dated = _dated(rows, header.index("time"), len(header), zone)
    for item in _without_strays(_without_first_stray(dated)):
        if isinstance(item, RowProblem):
            yield item
            continue
        number, at, row = item
        newest = max(newest, at)
        for index, probe in columns:
            cell = row[index]
            if not cell:
                continue
            value = _number(cell)
            if value is None:
                if cell.strip():
                    point = f" with a point, {cell.strip().replace(',', '.')}" if _COMMA.fullmatch(cell.strip()) else ""
                    text = f"{probe}: found {cell[:40]!r}, expected a number{point}; the cell is left out"
                    yield RowProblem(number, text)
                continue
            yield Sample(probe, at, value, newest)


def _dated(rows: Iterator[list[str]], where: int, width: int, zone: tzinfo) -> Iterator[_Row | RowProblem]:
    """The rows with their times, read from column `where`; what is no such row is a problem."""
    times, number = _Times(zone), 1
    while True:
        number += 1
        try:
            row = next(rows)
            item = _Row(number, times.read(row[where]), row) if len(row) == width else None
        except StopIteration:
            return
        except csv.Error as error:
            yield RowProblem(number, f"not a row of comma separated values ({error})")
        except InputError as error:
            yield RowProblem(number, f"{error}; the row is left out")
        else:
            if item is not None:
                yield item
            elif row:
                cells = "1 cell" if len(row) == 1 else f"{len(row)} cells"
                text = f"found {cells}, expected {width} as in the header; the row is left out"
                yield RowProblem(number, text)


def _without_first_stray(rows: Iterator[_Row | RowProblem]) -> Iterator[_Row | RowProblem]:
    """The first row has none before it to leap from: it was the slip where both rows after it lie days before it."""
    head = list(islice(rows, 3))
    dated = [row for row in head if isinstance(row, _Row)]
    if len(dated) == 3 and dated[0].at - max(row.at for row in dated[1:]) > LEAP_MS:
        head[0] = RowProblem(dated[0].number, "time: lies ahead of the rows that follow; the row is left out")
    yield from head
    yield from rows


def _without_strays(rows: Iterator[_Row | RowProblem]) -> Iterator[_Row | RowProblem]:
    """A row that leaps ahead is held until the next one: where that one does not follow, it was a slip of the pen.

    Otherwise one wrong year would make every row after it a late one.
    """
    newest, held = 0, None
    for row in rows:
        if isinstance(row, RowProblem):
            yield row
            continue
        if held is not None:
            if row.at >= held.at - LEAP_MS:
                newest = held.at
                yield held
            else:
                yield RowProblem(
                    held.number, "time: leaps ahead, and the next row does not follow; the row is left out"
                )
            held = None
        if newest and row.at - newest > LEAP_MS:
            held = row
            continue
        newest = max(newest, row.at)
        yield row
    if held is not None:
        slip = "time: leaps ahead by over a year, and no row follows; the row is left out"
        yield held if held.at - newest <= SLIP_MS else RowProblem(held.number, slip)


def write(readings: Iterable[tuple[str, int, float]], probes: Sequence[str], zone: tzinfo) -> Iterator[str]:
    """Lines of the replay form from (probe, at, value) in order of time; equal times share a row where they can."""
    yield "time," + ",".join(probes)
    place = {name: index for index, name in enumerate(probes)}
    cells: list[str] = [""] * len(probes)
    row_at: int | None = None
    for probe, at, value in readings:
        index = place[probe]
        if row_at is not None and (at != row_at or cells[index]):
            yield f"{iso(row_at, zone)}," + ",".join(cells)
            cells = [""] * len(probes)
        row_at, cells[index] = at, repr(value)
    if row_at is not None:
        yield f"{iso(row_at, zone)}," + ",".join(cells)


def _each_by_itself(lines: Iterable[str]) -> Iterator[str]:
    """Lines that the CSV reader survives: none with NUL, and none whose open quotation swallows those after it."""
    for line in lines:
        if "\0" in line:
            line = line.replace("\0", "\N{REPLACEMENT CHARACTER}")  # noqa: PLW2901
        yield line.replace('"', "\N{REPLACEMENT CHARACTER}") if line.count('"') % 2 else line


def _header(rows: Iterator[list[str]], probes: Sequence[str]) -> tuple[list[str], list[tuple[int, str]], list[str]]:
    try:
        header = [name.strip().removeprefix("\ufeff") for name in next(rows)]
    except StopIteration:
        raise SettingsError("row 1: the file is empty; expected a header `time` and a column for each probe") from None
    except csv.Error as error:
        raise SettingsError(f"row 1: not a header of comma separated values ({error})") from None
    if header.count("time") != 1:
        found = ", ".join(header)[:120]
        other = next((name for mark, name in _MARKS.items() if mark in found and "," not in found), "")
        remedy = f": save it with commas between the columns{other}" if other else ""
        raise SettingsError(
            f"row 1: found the header {found!r}, expected one column `time` and one for each probe{remedy}"
        )
    doubled = sorted({name for name in header if header.count(name) > 1})
    if doubled:
        raise SettingsError(f"row 1: the column {doubled[0]!r} stands there twice; expected each name once")
    columns = [(index, name) for index, name in enumerate(header) if name in probes]
    ignored = [name for name in header if name != "time" and name not in probes]
    return header, columns, ignored


def _number(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if math.isfinite(value) and "_" not in cell else None


class _Times:
    """Reads the time column; a local time that the change of the clock doubles is settled by the order of rows."""

    def __init__(self, zone: tzinfo) -> None:
        self.zone = zone
        self.last: int | None = None

    def read(self, text: str) -> int:
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            moment = self._trimmed(text)
        try:
            at = self._local(moment, text) if moment.tzinfo is None else round(moment.timestamp() * 1000)
        except (OverflowError, ValueError):
            at = -1
        if not 0 <= at < END_MS:
            raise InputError(f"time: {text!r} is out of range, expected a time from 1970 to 2100")
        self.last = at
        return at

    @staticmethod
    def _trimmed(text: str) -> datetime:
        try:
            return datetime.fromisoformat(text.strip())
        except ValueError:
            raise InputError(
                f"time: found {text[:40]!r}, expected ISO 8601 such as 2026-06-03T04:30:00+02:00"
            ) from None

    def _local(self, moment: datetime, text: str) -> int:
        early, late = (round(moment.replace(tzinfo=self.zone, fold=fold).timestamp() * 1000) for fold in (0, 1))
        if early == late:
            return early
        if late < early:
            raise InputError(f"time: {text!r} does not exist: the clock goes forward then; give it with its offset")
        if self.last is not None and early - HOUR_MS <= self.last < late:
            return early if self.last < early else late
        raise InputError(f"time: {text!r} comes twice that night: give it with its offset")
