"""`dawnline logbook`: add what you did or measured by hand; list it."""

from __future__ import annotations

import argparse
from typing import Any

from dawnline.cli.ask import ask
from dawnline.cli.moment import span
from dawnline.cli.second_word import second_word
from dawnline.duration import iso
from dawnline.errors import InputError, SettingsError
from dawnline.logbook.acts import KINDS, read
from dawnline.settings import find_config, load
from dawnline.store.reader import Reader
from dawnline.store.record import ActRow

KEPT_ELSEWHERE = ("acknowledge", "shelve", "unshelve", "out-of-service", "return")


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    kinds = [kind for kind in KINDS if kind not in KEPT_ELSEWHERE]
    word = second_word(parser)
    add = word("add", "add an entry", "A wrong key is answered with those that its kind has.")
    add.add_argument("kind", metavar="KIND", choices=kinds, help=", ".join(kinds))
    add.add_argument("pairs", metavar="KEY=VALUE", nargs="*", help="such as kh_dkh=3, share=0.15 or note='a heron'")
    listing = word("list", "list entries, with what was said to each")
    listing.add_argument("--from", dest="start", metavar="DATE", help="from this day on")
    listing.add_argument("--to", dest="end", metavar="DATE", help="up to the end of this day")


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    if args.what == "add":
        return ask(settings, args.kind, _body(args.kind, args.pairs))
    start, end = span(args.start, args.end, settings.pond.zone)
    with Reader.open(settings.store.path) as reader:
        for row in reader.acts(start, end):
            print(f"{iso(row.act.at, settings.pond.zone)}  {_line(row)}")
    return 0


def _line(row: ActRow) -> str:
    """One entry in a line; what somebody wrote cannot break out of it, nor paint the terminal."""
    pairs = " ".join(f"{key}={str(value).removesuffix('.0')}" for key, value in row.act.body.items())
    by = f" ({row.act.actor})" if row.act.actor else ""
    refused = "" if row.accepted else f"  refused: {row.text}"
    return "".join(c if c.isprintable() else " " for c in f"{row.act.kind} {pairs}{by}{refused}")


def _body(kind: str, pairs: list[str]) -> dict[str, Any]:
    """KEY=VALUE pairs, a number where this kind of entry has one. Raises SettingsError for what is no such entry."""
    words: dict[str, str] = {}
    for pair in pairs:
        key, equals, text = pair.partition("=")
        if not equals or not key:
            raise SettingsError(f"found {pair!r}, expected KEY=VALUE such as kh_dkh=3")
        if key in words:
            raise SettingsError(f"found {key!r} twice, expected each key once")
        words[key] = text
    try:
        entry = read(kind, words)
    except InputError as error:
        raise SettingsError(str(error)) from None
    numbers = {key: value for key, value in entry.model_dump().items() if isinstance(value, float)}
    return {key: numbers.get(key, text) for key, text in words.items()}
