"""The replay form: recorded readings as CSV, read and written here and nowhere else.

Header `time` and one column a probe; ISO 8601 times with offset or `Z`, or the pond's local time; an empty cell is no
reading. What cannot be used is said with its row (the header is row 1) and loses nothing else.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, tzinfo
from typing import Final, NamedTuple, TypeAlias

from dawnline.duration import HOUR_MS, iso
from dawnline.errors import InputError, SettingsError
from dawnline.reading import Sample

EARLIEST_MS: Final = 0
LATEST_MS: Final = 4_102_444_800_000  # 2100-01-01


class RowProblem(NamedTuple):
    """Something in the file that cannot be used; `harmless` where nothing was lost that belongs to a probe."""

    row: int
    text: str
    harmless: bool = False


Item: TypeAlias = Sample | RowProblem


def read(lines: Iterable[str], probes: Sequence[str], zone: tzinfo) -> Iterator[Item]:
    """The samples of a recording, in the order of its rows, received as they were measured.

    Raises SettingsError where the header cannot be used at all.
    """
    rows = csv.reader(_without_nul(lines), strict=True)
    header, columns, ignored = _header(rows, probes)
    if ignored:
        names = ", ".join(repr(name) for name in ignored)
        yield RowProblem(1, f"no probe is named {names}; ignored", harmless=True)
    where = header.index("time")
    width = len(header)
    times = _Times(zone)
    newest = 0
    number = 1
    while True:
        try:
            row = next(rows)
        except StopIteration:
            return
        except csv.Error as error:
            number += 1
            yield RowProblem(number, f"not a row of comma separated values ({error})")
            continue
        number += 1
        if not row:
            continue
        if len(row) != width:
            yield RowProblem(number, f"found {len(row)} cells, expected {width} as in the header; the row is left out")
            continue
        try:
            at = times.read(row[where])
        except InputError as error:
            yield RowProblem(number, f"time: {error}; the row is left out")
            continue
        newest = max(newest, at)
        for index, probe in columns:
            cell = row[index]
            if not cell:
                continue
            value = _number(cell)
            if value is None:
                if cell.strip():
                    yield RowProblem(number, f"{probe}: found {cell[:40]!r}, expected a number; the cell is left out")
                continue
            yield Sample(probe, at, value, newest)


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


def _without_nul(lines: Iterable[str]) -> Iterator[str]:
    return (line.replace("\0", "\N{REPLACEMENT CHARACTER}") if "\0" in line else line for line in lines)


def _header(rows: Iterator[list[str]], probes: Sequence[str]) -> tuple[list[str], list[tuple[int, str]], list[str]]:
    try:
        header = [name.strip() for name in next(rows)]
    except StopIteration:
        raise SettingsError("row 1: the file is empty; expected a header `time` and a column for each probe") from None
    except csv.Error as error:
        raise SettingsError(f"row 1: not a header of comma separated values ({error})") from None
    if header.count("time") != 1:
        found = ", ".join(header)[:120]
        raise SettingsError(f"row 1: found the header {found!r}, expected one column `time` and one for each probe")
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
        if moment.tzinfo is None:
            at = self._local(moment, text)
        else:
            try:
                at = round(moment.timestamp() * 1000)
            except (OverflowError, ValueError):
                raise InputError(f"{text!r} is out of range") from None
        if not EARLIEST_MS <= at < LATEST_MS:
            raise InputError(f"{text!r} is out of range, expected a time from 1970 to 2100")
        self.last = at
        return at

    @staticmethod
    def _trimmed(text: str) -> datetime:
        try:
            return datetime.fromisoformat(text.strip())
        except ValueError:
            raise InputError(f"found {text[:40]!r}, expected ISO 8601 such as 2026-06-03T04:30:00+02:00") from None

    def _local(self, moment: datetime, text: str) -> int:
        early, late = (round(moment.replace(tzinfo=self.zone, fold=fold).timestamp() * 1000) for fold in (0, 1))
        if early == late:
            return early
        if late < early:
            raise InputError(f"{text!r} does not exist: the clock goes forward then; give it with its offset")
        if self.last is not None and early - HOUR_MS <= self.last < late:
            return early if self.last < early else late
        raise InputError(f"{text!r} comes twice that night: give it with its offset")
