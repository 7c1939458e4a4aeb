"""`dawnline review`: look back at a week, as text."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import date, datetime, timedelta
from statistics import median

from dawnline.cli.moment import moment
from dawnline.contract import alarm_line, day_line
from dawnline.duration import DAY_MS
from dawnline.errors import SettingsError
from dawnline.event import Day, Transition
from dawnline.reading import Flag, Reason, Sample
from dawnline.review.text import ASCII_BLOCKS, BLOCKS, alarm_list, day_table, line
from dawnline.service.fold import make_pipeline
from dawnline.settings import Settings, find_config, load
from dawnline.store.reader import Reader

CELLS = 24  # characters of the small line: an hour each


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument("--from", dest="first", metavar="DATE", help="first day (default: seven days up to the last)")
    parser.add_argument("--to", dest="last", metavar="DATE", help="last day (default: the last of the record)")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")


def run(args: argparse.Namespace) -> int:
    """Run it: 1 where nothing has been recorded."""
    settings = load(find_config(args.config))
    first, last, zone = _date(args.first), _date(args.last), settings.pond.zone
    with Reader.open(settings.store.path) as reader:
        newest = max((end for _, end in reader.span().values()), default=None)
        today = None if newest is None else datetime.fromtimestamp(newest / 1000, zone).date()
        last = last or today
        first = first or (last and last - timedelta(days=6))
        if first and last and first > last:
            raise SettingsError(f"--from {first} lies after --to {last}: expected the earlier day first")
        days: list[Day] = []
        transitions: list[Transition] = []
        if today and first and last:
            days = reader.days(str(first), str(last))
            if first <= today <= last and newest is not None:
                days = _with_the_running_day(reader, settings, days, newest, today)
            times = moment(str(first), zone, late=False), moment(str(last), zone, late=True)
            transitions = reader.transitions(*times)
        drawn = {} if args.json else _drawn(reader, settings, days)
    if args.json:
        _print_json(settings, (first, last), days, transitions)
    elif today is None:
        print("nothing has been recorded yet", file=sys.stderr)
    else:
        print(f"{settings.pond.name}, {first} to {last}\n\n{day_table(days, zone, drawn)}")
        print(f"\nalarms:\n{alarm_list(transitions, zone)}")
    return 0 if today else 1


def _print_json(
    settings: Settings, of: tuple[date | None, date | None], days: list[Day], transitions: list[Transition]
) -> None:
    zone, (first, last) = settings.pond.zone, (each and str(each) for each in of)
    rows = [{"event": "review", "version": 1, "pond": settings.pond.name, "from": first, "to": last}]
    rows += [day_line(day, zone) for day in days] + [alarm_line(each, zone) for each in transitions]
    print("\n".join(json.dumps(row, ensure_ascii=False) for row in rows))


def _blocks() -> str:
    """Block characters, where standard output can show them."""
    try:
        BLOCKS.encode(sys.stdout.encoding or "ascii")
    except UnicodeError:
        return ASCII_BLOCKS
    return BLOCKS


def _date(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = date.min
    if not 1970 <= day.year < 2100:
        raise SettingsError(f"found {text!r}, expected a date from 1970 to 2100, such as 2026-06-14")
    return day


def _with_the_running_day(reader: Reader, settings: Settings, days: list[Day], newest: int, today: date) -> list[Day]:
    """Add the day that has not ended yet, from its readings (and the evening before, for the smoothing)."""
    zone = settings.pond.zone
    if any(day.date == today.isoformat() for day in days):
        return days
    start = moment(today.isoformat(), zone, late=False) - DAY_MS // 4
    running = list(days)
    for probe in settings.probes:
        if probe.quantity == "ph":
            pipeline = make_pipeline(settings)
            for each in reader.readings(probe.name, start, newest + 1):
                pipeline.step(
                    Sample(each.probe, each.at, each.value, each.received_at, each.reason is not Reason.UNDATED)
                )
            running += [day for day in pipeline.finish() if isinstance(day, Day) and day.date == today.isoformat()]
    return running


def _drawn(reader: Reader, settings: Settings, days: list[Day]) -> dict[tuple[str, str], str]:
    """A small line for each day: the median good reading of each hour, on one scale for all."""
    hours: dict[tuple[str, str], list[float | None]] = {}
    for day in days:
        start = moment(day.date, settings.pond.zone, late=False)
        end = moment(day.date, settings.pond.zone, late=True)
        found: list[list[float]] = [[] for _ in range(CELLS)]
        for reading in reader.readings(day.probe, start, end):
            if reading.flag is Flag.GOOD:
                found[CELLS * (reading.at - start) // (end - start)].append(reading.value)
        hours[day.date, day.probe] = [median(values) if values else None for values in found]
    known = [value for row in hours.values() for value in row if value is not None]
    if not known:
        return {}
    return {key: line(row, min(known), max(known), _blocks()) for key, row in hours.items()}
