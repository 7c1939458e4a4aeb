"""`dawnline alarms journal` and `report`: every move an alarm made, and how well the alarms serve."""

from __future__ import annotations

import argparse
import json
from datetime import tzinfo
from typing import Any, Final

from dawnline.alarms.performance import measure
from dawnline.cli.moment import span
from dawnline.duration import DAY_MS, day_and_time, iso
from dawnline.event import Moved
from dawnline.review.alarms import performance_line, performance_text
from dawnline.settings import Settings
from dawnline.store.reader import Reader

LAST_MS: Final = 30 * DAY_MS  # as much as the standards want at least
EVERY: Final = 1_000_000  # transitions: all there are


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of both."""
    parser.add_argument("--from", dest="start", metavar="TIME", help="from this time on (default: the last 30 days)")
    parser.add_argument("--to", dest="end", metavar="TIME", help="up to this time; a date: its end")
    parser.add_argument("--json", action="store_true", help="as JSON")


def journal(settings: Settings, args: argparse.Namespace) -> int:
    """Every move: when, which alarm, from where to where, by whom, why."""
    zone = settings.pond.zone
    with Reader.open(settings.store.path) as reader:
        moves = reader.moves(*_time(reader, args, zone))
    if args.json:
        for number, move in enumerate(moves):
            print(json.dumps(({} if number else {"version": 1}) | _object(move, zone), ensure_ascii=False))
    else:
        print("\n".join(_line(move, zone) for move in moves) or "no move in this time")
    return 0


def report(settings: Settings, args: argparse.Namespace) -> int:
    """How well the alarms serve."""
    zone = settings.pond.zone
    with Reader.open(settings.store.path) as reader:
        start, end = _time(reader, args, zone)
        found = measure(reader.transitions(0, end, EVERY), start, end)
    if args.json:
        print(json.dumps({"version": 1, **performance_line(found, zone)}, ensure_ascii=False))
    else:
        print(performance_text(found, zone))
    return 0


def _time(reader: Reader, args: argparse.Namespace, zone: tzinfo) -> tuple[int, int]:
    """What was asked for, within what the record holds unless both ends were named."""
    start, end = span(args.start, args.end, zone)
    if args.end is None:
        end = max(start + 1, (reader.cursor() or 0) + 1)
    if args.start is None:
        first = min((begin for begin, _ in reader.span().values()), default=0)
        start = min(max(end - LAST_MS, first), end - 1)
    return start, end


def _object(move: Moved, zone: tzinfo) -> dict[str, Any]:
    return {
        "event": "alarm-move",
        "time": iso(move.at, zone),
        "alarm": move.alarm,
        "probe": move.probe,
        "id": move.episode,
        "move": move.move,
        "before": move.before,
        "after": move.after,
        "priority": move.priority,
        "by": move.actor,
        "reason": move.reason,
    }


def _line(move: Moved, zone: tzinfo) -> str:
    when = day_and_time(move.at, zone)
    place = f" [{move.probe}]" if move.probe else ""
    number = "" if move.episode is None else f" {move.episode}"
    by = f" by {move.actor}" if move.actor else ""
    reason = f": {move.reason}" if move.reason else ""
    return f"{when}  {move.alarm}{place}{number}: {move.before} -> {move.after} ({move.move}{by}){reason}"
