"""`dawnline review`: look back at a week, as text, as a report of one file, or as data."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Final

from dawnline.cli.out_file import check_out, write_out
from dawnline.cli.progress import Progress
from dawnline.duration import parse_date
from dawnline.electrode.calibration import IDEAL
from dawnline.errors import SettingsError
from dawnline.queries.week_of import span_of, week_of
from dawnline.review.rows import COLUMNS, objects, table
from dawnline.review.sentences import sentences
from dawnline.review.text import ASCII_BLOCKS, BLOCKS, alarm_list, day_table, line
from dawnline.review.week import Week
from dawnline.rollup import Rollup
from dawnline.settings import Settings
from dawnline.settings_ponds import find_configs, load_ponds
from dawnline.store.reader import Reader

CELLS: Final = 24  # characters of the small line: an hour each
STDOUT: Final = "-"


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument("--from", dest="first", metavar="DATE", help="first day (default: seven days up to the last)")
    parser.add_argument("--to", dest="last", metavar="DATE", help="last day (default: the last of the record)")
    parser.add_argument("--html", metavar="OUT", help="write a report with pictures, one file that needs no network")
    parser.add_argument("--csv", metavar="OUT", help="write the days as a table; - for standard output")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")


def run(args: argparse.Namespace) -> int:
    """Run it: 1 where nothing has been recorded. Of many ponds one after another."""
    ponds = load_ponds(find_configs(args.config))
    if len(ponds) > 1 and (args.html or args.csv or args.json):
        raise SettingsError(f"--config: found {len(ponds)}, expected one beside --html, --csv or --json")
    found = []
    for number, settings in enumerate(ponds):
        print("\n" if number else "", end="")
        found.append(_review(args, settings))
    return max(found)


def _review(args: argparse.Namespace, settings: Settings) -> int:
    first, last = _date(args.first), _date(args.last)
    if args.json and args.csv == STDOUT:
        raise SettingsError("--json and --csv -: both want standard output; give --csv the name of a file")
    if args.html == STDOUT:
        raise SettingsError("--html -: expected the name of a file, such as week.html")
    _check(args, settings)
    with Reader.open(settings.store.path) as reader:
        span = span_of(reader, settings, first, last)
        if span is None:
            _nothing(settings, first, last, as_json=args.json)
            return 1
        progress = Progress("reading")
        try:
            week = week_of(reader, settings, span, progress)
        finally:
            progress.end()
    if args.html is not None:
        from dawnline.review.report import report

        write_out(Path(args.html), report(week))
    if args.csv is not None and args.csv != STDOUT:
        write_out(Path(args.csv), table(week))
    if args.csv == STDOUT:
        sys.stdout.write(table(week))
    elif args.json:
        print("\n".join(json.dumps(row, ensure_ascii=False) for row in objects(week)))
    elif args.html is None and args.csv is None:
        print(_text(week))
    return 0


def _check(args: argparse.Namespace, settings: Settings) -> None:
    """Refuse a file that must not be written before any work is done."""
    if args.html is not None:
        from dawnline.review.report import MARK

        check_out(Path(args.html), settings, lambda head: MARK in head)
    if args.csv is not None and args.csv != STDOUT:
        check_out(Path(args.csv), settings, lambda head: head.startswith(",".join(COLUMNS[:-2])))
    if args.html is not None and args.csv is not None and Path(args.html).resolve() == Path(args.csv).resolve():
        raise SettingsError(f"{args.html}: is named for --html and for --csv; name two files")


def _nothing(settings: Settings, first: date | None, last: date | None, *, as_json: bool) -> None:
    if as_json:
        head = {"event": "review", "version": 1, "pond": settings.pond.name}
        print(json.dumps({**head, "from": first and str(first), "to": last and str(last)}, ensure_ascii=False))
    else:
        print("nothing has been recorded yet", file=sys.stderr)


def _text(week: Week) -> str:
    """Everything in words and figures, for a terminal."""
    days, graded = week.stretch.days, [each for each in week.corrections if each.grade is not None]
    lows = {(day.date, each.probe): day.dawn_low for each in graded for day in each.days}
    parts = [
        f"{week.pond}, {week.stretch.first} to {week.stretch.last}",
        day_table(days, week.zone, _drawn(week), lows, week.doubted),
    ]
    if graded:
        grades = "; ".join(str(each) for each in graded)
        parts.append(f"record, by the visits with buffer or brush (USGS TM 1-D3): {grades}")
    if week.rain is not None and week.rain.mm:
        fell = ", ".join(f"{date.fromisoformat(on):%a} {mm:.1f}" for on, mm in week.rain.by_day if mm >= 0.05)
        parts.append(f"rain by day [mm]: {fell}; {week.rain.mm:.1f} in all")
    if days:
        parts.append("\n".join(["what changed:", *(f"  - {each.text}" for each in sentences(week))]))
    journal = [*week.stretch.standing, *week.stretch.transitions]
    parts += [f"buffer, {week.buffer}", f"alarms:\n{alarm_list(journal, week.zone, week.titles)}"]
    parts += [week.stretch.thinned] if week.stretch.thinned else []
    return "\n\n".join(parts)


def _blocks() -> str:
    """Block characters, where standard output can show them."""
    try:
        BLOCKS.encode(sys.stdout.encoding or "ascii")
    except UnicodeError:
        return ASCII_BLOCKS
    return BLOCKS


def _date(text: str | None) -> date | None:
    try:
        return None if text is None else parse_date(text)
    except ValueError as error:
        raise SettingsError(str(error)) from None


def _drawn(week: Week) -> dict[tuple[str, str], str]:
    """A small line for each day: the mean pH of each hour, on one scale for all."""
    hours: dict[tuple[str, str], list[float | None]] = {}
    for series in week.stretch.series:
        if series.quantity not in IDEAL:
            continue
        place = 0
        for on, start, end in week.stretch.bounds(week.zone):
            found: list[list[Rollup]] = [[] for _ in range(CELLS)]
            while place < len(series.rollups) and series.rollups[place].at < end:
                each = series.rollups[place]
                if each.number and each.at >= start:
                    found[CELLS * (each.at - start) // (end - start)].append(each)
                place += 1
            if any(found):
                hours[on, series.probe] = [_mean(cell) for cell in found]
    known = [value for row in hours.values() for value in row if value is not None]
    if not known:
        return {}
    return {key: line(row, min(known), max(known), _blocks()) for key, row in hours.items()}


def _mean(of: Sequence[Rollup]) -> float | None:
    number = sum(each.number for each in of)
    return sum(each.total for each in of) / number if number else None
