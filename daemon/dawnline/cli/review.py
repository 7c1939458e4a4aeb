"""`dawnline review`: look back at a week, as text."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import date, datetime, timedelta
from statistics import median

from dawnline.cli.moment import moment
from dawnline.cli.ph_readings import ph_readings
from dawnline.cli.running_day import with_the_running_day
from dawnline.contract import alarm_line, day_line, rounded
from dawnline.electrode.calibration import IDEAL
from dawnline.electrode.layer import Layer
from dawnline.errors import SettingsError
from dawnline.event import Day, Transition
from dawnline.logbook.acts import CARE
from dawnline.logbook.ledger import standing
from dawnline.review.buffer import DAYS_BACK, buffer_text
from dawnline.review.corrected import Correction, corrected
from dawnline.review.text import ASCII_BLOCKS, BLOCKS, alarm_list, day_table, line
from dawnline.settings import Settings, find_config, load
from dawnline.store.reader import Reader

LATEST = 1 << 62  # ms: every act there is
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
                days = with_the_running_day(reader, settings, days, newest, today)
            times = moment(str(first), zone, late=False), moment(str(last), zone, late=True)
            transitions = reader.transitions(*times)
        layers = _layers(reader, settings)
        buffer = "" if args.json or last is None else _buffer(reader, settings, last)
        drawn = {} if args.json else _drawn(reader, settings, days, layers)
    corrections = _corrections(settings, days, layers)
    if args.json:
        _print_json(settings, (first, last), days, transitions)
        _print_corrections(corrections)
    elif today is None:
        print("nothing has been recorded yet", file=sys.stderr)
    else:
        print(f"{settings.pond.name}, {first} to {last}\n\n{day_table(days, zone, drawn, _lows(corrections))}")
        graded = [str(each) for each in corrections if each.grade is not None]
        if graded:
            print(f"\nrecord, by the visits with buffer or brush (USGS TM 1-D3): {'; '.join(graded)}")
        print(f"\nbuffer, {buffer}")
        print(f"\nalarms:\n{alarm_list(transitions, zone)}")
    return 0 if today else 1


def _print_json(
    settings: Settings, of: tuple[date | None, date | None], days: list[Day], transitions: list[Transition]
) -> None:
    zone, (first, last) = settings.pond.zone, (each and str(each) for each in of)
    rows = [{"event": "review", "version": 1, "pond": settings.pond.name, "from": first, "to": last}]
    rows += [day_line(day, zone) for day in days] + [alarm_line(each, zone) for each in transitions]
    print("\n".join(json.dumps(row, ensure_ascii=False) for row in rows))


def _print_corrections(corrections: list[Correction]) -> None:
    for each in corrections:
        rows = [
            {"date": day.date, "dawn_low": rounded(day.dawn_low), "dusk_high": rounded(day.dusk_high)}
            for day in each.days
        ]
        grade = None if each.grade is None else each.grade.label
        head = {"event": "correction", "probe": each.probe, "grade": grade, "worst": rounded(each.worst)}
        print(json.dumps({**head, "days": rows}, ensure_ascii=False))


def _lows(corrections: list[Correction]) -> dict[tuple[str, str], float | None]:
    """Corrected dawn lows by date and probe, where there is something to be said."""
    graded = [each for each in corrections if each.grade is not None]
    return {(day.date, each.probe): day.dawn_low for each in graded for day in each.days}


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


def _layers(reader: Reader, settings: Settings) -> dict[str, Layer]:
    """The corrections of each pH probe."""
    done = reader.accepted_acts(LATEST, CARE)
    return {p.name: Layer(p.name, p.quantity, done) for p in settings.probes if p.quantity in IDEAL}


def _corrections(settings: Settings, days: list[Day], layers: dict[str, Layer]) -> list[Correction]:
    found = []
    for name, layer in layers.items():
        own = [day for day in days if day.probe == name]
        found.append(corrected(own, layer, [_bounds(settings, day) for day in own]))
    return [each for each in found if each.days]


def _bounds(settings: Settings, day: Day) -> tuple[int, int]:
    zone = settings.pond.zone
    return moment(day.date, zone, late=False), moment(day.date, zone, late=True)


def _buffer(reader: Reader, settings: Settings, last: date) -> str:
    """What the buffer line said on the last day."""
    first, zone = last - timedelta(days=DAYS_BACK), settings.pond.zone
    times = moment(str(first), zone, late=False), moment(str(last), zone, late=True)
    done = standing(row.act for row in reader.acts(0, LATEST) if row.accepted)
    acts = [act for act in done if times[0] <= act.at < times[1]]
    return buffer_text(reader.days(str(first), str(last)), acts, settings.pond, settings.limits)


def _drawn(reader: Reader, settings: Settings, days: list[Day], layers: dict[str, Layer]) -> dict[tuple[str, str], str]:
    """A small line for each day: the median good reading of each hour in pH, on one scale for all."""
    hours: dict[tuple[str, str], list[float | None]] = {}
    probes = {probe.name: probe for probe in settings.probes}
    for day in days:
        if day.probe not in layers:  # no longer configured
            continue
        start, end = _bounds(settings, day)
        found: list[list[float]] = [[] for _ in range(CELLS)]
        for at, ph in ph_readings(reader, probes[day.probe], layers[day.probe], start, end):
            found[CELLS * (at - start) // (end - start)].append(ph)
        hours[day.date, day.probe] = [median(values) if values else None for values in found]
    known = [value for row in hours.values() for value in row if value is not None]
    if not known:
        return {}
    return {key: line(row, min(known), max(known), _blocks()) for key, row in hours.items()}
