"""`dawnline logbook`: what you did and measured by hand: added, listed, corrected, carried in and out as a table."""

from __future__ import annotations

import argparse
from typing import Any, Final

from dawnline.cli import logbook_account, logbook_book, logbook_table
from dawnline.cli.ask import ask
from dawnline.cli.moment import span
from dawnline.cli.second_word import second_word
from dawnline.errors import InputError, SettingsError
from dawnline.logbook.acts import POND_KINDS, PROBE_KINDS
from dawnline.logbook.settle import WORDS, Habits, pairs, settle
from dawnline.logbook.words import how, meaning
from dawnline.service import now_file
from dawnline.service.clock import from_environment
from dawnline.settings import Settings, find_config, load

ADDED: Final = {**POND_KINDS, **PROBE_KINDS}
_MORE: Final = """\
A figure is written with its unit, kh="6 drops" or amount="300 gal", or as a bare number under the key that names the
unit, kh_dkh=6. A first word without a key is the chief figure: `add test "6 drops" ph=7.4`, `add change 15%`,
`add note "a heron"`. Every entry about the pond takes note=, photo=NAME and when=08:00, when="yesterday 18:30" or
when=2026-06-03T08:00."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    word = second_word(parser)
    add = word("add", "add an entry", "A wrong key is answered with those that its kind has.")
    add.formatter_class = argparse.RawDescriptionHelpFormatter
    add.epilog = f"{_MORE}\n\n{_kinds()}"
    add.add_argument("kind", metavar="KIND", choices=[*ADDED, *WORDS], help="one of those below")
    add.add_argument("pairs", metavar="KEY=VALUE", nargs="*", help='such as kh="6 drops", ph=7.4, amount=15%%')
    logbook_account.option(word("account", "the buffer's account: what KH is, where it went, how long it lasts"))
    word("kinds", "the kinds of entry, with what each means and takes")
    logbook_book.arguments(word)
    logbook_table.arguments(word)


def run(args: argparse.Namespace) -> int:
    """Run it."""
    if args.what == "kinds":
        print(f"{_MORE}\n\n{_kinds()}")
        return 0
    settings = load(find_config(args.config))
    if args.what == "add":
        return ask(settings, *_typed(settings, args.kind, args.pairs))
    if args.what == "account":
        return logbook_account.show(settings, args.at, as_json=args.json)
    if args.what == "list":
        times = span(args.start, args.end, settings.pond.zone)
        logbook_book.show(logbook_book.Book.of(settings), *times, history=args.history, as_json=args.json)
        return 0
    if args.what in ("import", "export"):
        return logbook_table.run(args, settings, habits(settings))
    return logbook_book.run(args, settings, habits(settings))


def habits(settings: Settings) -> Habits:
    """How this keeper types, as the configuration says; "08:00" is of no day while the clock is not known to be set."""
    data = now_file.read(settings.store.path)
    known = data is None or not now_file.is_current(data) or data.get("clock_set", True)
    now = from_environment().now() if known else None
    return Habits(settings.pond.zone, settings.pond.units, settings.logbook, now)


def _typed(settings: Settings, kind: str, words: list[str]) -> tuple[str, dict[str, Any]]:
    """The act that somebody typed. Raises SettingsError for what is none."""
    try:
        return settle(kind, pairs(kind, words), habits(settings))
    except InputError as error:
        raise SettingsError(str(error)) from None


def _kinds() -> str:
    """Every kind with what it means and the keys it takes."""
    rows = []
    for kind in ADDED:
        also = [word for word, (meant, beside) in WORDS.items() if meant == kind and not beside]
        keys = how(kind)
        rows += [", ".join([kind, *also]), f"    {meaning(kind)}", *(f"      {each}" for each in keys if "=" in each)]
        plain = " ".join(each for each in keys if "=" not in each)
        rows += [f"      {plain}"] if plain else []
    short = [f"{word} ({meant} with {_beside(beside)})" for word, (meant, beside) in WORDS.items() if beside]
    return "\n".join([*rows, f"and for short: {', '.join(short)}"])


def _beside(words: dict[str, str]) -> str:
    return " ".join(f'{key}="{text}"' if " " in text else f"{key}={text}" for key, text in words.items())
