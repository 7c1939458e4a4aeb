"""`dawnline page`: the page on the local network, a process of its own."""

from __future__ import annotations

import argparse
import getpass
import sys
import time
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final

from dawnline.cli.ask import put
from dawnline.cli.ph_probe import ph_probe
from dawnline.dosing.asked import plan_asked
from dawnline.dosing.figures import Given
from dawnline.dosing.words import lines
from dawnline.errors import InputError, SettingsError
from dawnline.event import Act
from dawnline.logbook.acts import POND_KINDS, PROBE_KINDS
from dawnline.logbook.ledger import standing
from dawnline.page.doors import Doors
from dawnline.page.passphrase import hashed
from dawnline.queries.close_up_of import close_up_of
from dawnline.queries.known_water import known_water
from dawnline.queries.present import find_present, find_written
from dawnline.queries.probe_history import probe_history
from dawnline.queries.week_of import span_of, week_of
from dawnline.review.week import Week
from dawnline.secret import keep_out_of_cores
from dawnline.service.clock import from_environment, wall_s
from dawnline.settings import Settings
from dawnline.settings_ponds import find_configs, load_ponds, one_page
from dawnline.store.reader import Reader

ENTRIES: Final = (*POND_KINDS, *PROBE_KINDS)


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument("--hash", action="store_true", help="ask for a passphrase and print what its file is to hold")


def run(args: argparse.Namespace) -> int:
    """Run it, until it is told to stop."""
    if args.hash:
        return _hash()
    keep_out_of_cores()
    ponds = load_ponds(find_configs(args.config))
    one_page(ponds)
    from dawnline.page.app import Site
    from dawnline.page.server import listen, serve

    site, page = Site([doors(each) for each in ponds]), ponds[0].page
    listening = listen(page.listen, page.port)
    host = f"[{page.listen}]" if ":" in page.listen else page.listen
    name = ponds[0].pond.name if len(ponds) == 1 else f"{len(ponds)} ponds"
    print(f"{name}: {page.address or f'http://{host}:{page.port}'}", file=sys.stderr)
    serve(site, listening)
    return 0


def doors(settings: Settings) -> Doors:
    """What the page is given of this pond."""

    def week(first: date | None, last: date | None) -> Week | None:
        with Reader.open(settings.store.path) as reader:
            span = span_of(reader, settings, first, last)
            return None if span is None else week_of(reader, settings, span)

    def close_up(start: int, end: int) -> Week | None:
        with Reader.open(settings.store.path) as reader:
            return close_up_of(reader, settings, start, end)

    def entries(number: int) -> list[Act]:
        with Reader.open(settings.store.path) as reader:
            done = standing(reader.done())
        return [act for act in done if act.kind in ENTRIES][-number:][::-1]

    def history(name: str) -> tuple[Sequence[tuple[Act, str]], Sequence[str]]:
        with Reader.open(settings.store.path) as reader:
            found = probe_history(reader, ph_probe(settings, name))
        return found.shown, found.trend(settings.pond.zone)

    def plan(what: str, given: Mapping[str, str]) -> tuple[bool, list[str]]:
        found = plan_asked(what, Given(given), known_water(settings, now()))
        return found.refused, list(lines(found, settings.pond.units))

    def now() -> int:
        return from_environment().now()

    return Doors(
        settings=settings,
        present=lambda: find_present(settings),
        glance=lambda: find_written(settings),
        week=week,
        close_up=close_up,
        entries=entries,
        history=history,
        put=lambda kind, body, actor: put(settings, kind, body, by=actor),
        plan=plan,
        now=now,
        wall_s=wall_s,
        monotonic_s=time.monotonic,
    )


def _hash() -> int:
    """Ask twice at a terminal, once from a pipe."""
    if sys.stdin.isatty():
        passphrase = getpass.getpass("Passphrase: ")
        if getpass.getpass("Once more: ") != passphrase:
            raise InputError("the two were not the same; nothing was made")
    else:
        passphrase = sys.stdin.readline().rstrip("\n")
    try:
        print(hashed(passphrase))
    except InputError as error:
        raise SettingsError(str(error)) from None
    return 0
