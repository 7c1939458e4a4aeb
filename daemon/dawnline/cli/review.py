"""`dawnline review`: look back at a week, as text."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import date, datetime, timedelta
from statistics import median

from dawnline.cli.readings import moment
from dawnline.contract import alarm_line, day_line
from dawnline.duration import DAY_MS
from dawnline.errors import SettingsError
from dawnline.event import Day
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
    """Run it."""
    settings = load(find_config(args.config))
    with Reader.open(settings.store.path) as reader:
        span = reader.span()
        if not span:
            print("nothing has been recorded yet")
            return 1
        newest = max(last for _, last in span.values())
        last = _date(args.last) or datetime.fromtimestamp(newest / 1000, settings.pond.zone).date()
        first = _date(args.first) or last - timedelta(days=6)
        if first > last:
            raise SettingsError(f"--from {first} lies after --to {last}")
        days = _with_the_running_day(reader, settings, reader.days(first.isoformat(), last.isoformat()), newest, last)
        start, end = (
            moment(first.isoformat(), settings, late=False),
            moment(last.isoformat(), settings, late=True),
        )
        transitions = reader.transitions(start, end)
        drawn = _drawn(reader, settings, days)
    zone = settings.pond.zone
    if args.json:
        rows = [{"event": "review", "version": 1, "pond": settings.pond.name, "from": str(first), "to": str(last)}]
        rows += [day_line(day, zone) for day in days] + [alarm_line(each, zone) for each in transitions]
        print("\n".join(json.dumps(row, ensure_ascii=False) for row in rows))
        return 0
    print(f"{settings.pond.name}, {first} to {last}\n")
    print(day_table(days, zone, drawn))
    print(f"\nalarms:\n{alarm_list(transitions, zone)}")
    return 0


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
        return date.fromisoformat(text)
    except ValueError:
        raise SettingsError(f"found {text!r}, expected a date such as 2026-06-14") from None


def _with_the_running_day(reader: Reader, settings: Settings, days: list[Day], newest: int, last: date) -> list[Day]:
    """Add the day that has not ended yet, from its readings (and the evening before, for the smoothing)."""
    zone = settings.pond.zone
    today = datetime.fromtimestamp(newest / 1000, zone).date()
    if today > last or any(day.date == today.isoformat() for day in days):
        return days
    start = moment(today.isoformat(), settings, late=False) - DAY_MS // 4
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
        start = moment(day.date, settings, late=False)
        end = moment(day.date, settings, late=True)
        found: list[list[float]] = [[] for _ in range(CELLS)]
        for reading in reader.readings(day.probe, start, end):
            if reading.flag is Flag.GOOD:
                found[CELLS * (reading.at - start) // (end - start)].append(reading.value)
        hours[day.date, day.probe] = [median(values) if values else None for values in found]
    known = [value for row in hours.values() for value in row if value is not None]
    if not known:
        return {}
    return {key: line(row, min(known), max(known), _blocks()) for key, row in hours.items()}
