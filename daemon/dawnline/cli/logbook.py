"""`dawnline logbook`: add what you did or measured by hand; list it."""

from __future__ import annotations

import argparse
import json
from typing import Any

from dawnline.cli.ask import ask
from dawnline.cli.readings import moment
from dawnline.duration import iso
from dawnline.errors import SettingsError
from dawnline.logbook.acts import KINDS
from dawnline.settings import find_config, load
from dawnline.store.reader import Reader

KEPT_ELSEWHERE = ("acknowledge", "shelve", "unshelve", "out-of-service", "return")


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    kinds = [kind for kind in KINDS if kind not in KEPT_ELSEWHERE]
    acts = parser.add_subparsers(dest="what", metavar="WHAT", required=True)
    add = acts.add_parser("add", help="add an entry", description=f"Kinds: {', '.join(kinds)}.")
    add.add_argument("kind", metavar="KIND", choices=kinds, help="what kind of entry")
    add.add_argument("pairs", metavar="KEY=VALUE", nargs="*", help="such as kh_dkh=3 or share=0.15")
    listing = acts.add_parser("list", help="list entries")
    listing.add_argument("--from", dest="start", metavar="DATE", help="from this day on")
    listing.add_argument("--to", dest="end", metavar="DATE", help="up to the end of this day")


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    if args.what == "add":
        return ask(settings, args.kind, _body(args.pairs))
    start = moment(args.start, settings, late=False) if args.start else 0
    end = moment(args.end, settings, late=True) if args.end else 1 << 53
    with Reader.open(settings.store.path) as reader:
        for row in reader.acts(start, end):
            pairs = " ".join(f"{key}={value}" for key, value in row.act.body.items())
            by = f" ({row.act.actor})" if row.act.actor else ""
            refused = "" if row.accepted else f"  refused: {row.text}"
            print(f"{iso(row.act.at, settings.pond.zone)}  {row.act.kind} {pairs}{by}{refused}")
    return 0


def _body(pairs: list[str]) -> dict[str, Any]:
    """KEY=VALUE pairs; a value that reads as a number is one. Raises SettingsError for a word without `=`."""
    body: dict[str, Any] = {}
    for pair in pairs:
        key, equals, text = pair.partition("=")
        if not equals:
            raise SettingsError(f"found {pair!r}, expected KEY=VALUE such as kh_dkh=3")
        try:
            value = json.loads(text)
        except (ValueError, RecursionError):
            value = text
        body[key] = value if isinstance(value, int | float) and not isinstance(value, bool) else text
    return body
