"""`dawnline logbook account`: the buffer's account."""

from __future__ import annotations

import argparse
import json

from dawnline.account import words
from dawnline.cli.moment import as_of
from dawnline.queries.account_of import account_of
from dawnline.settings import Settings
from dawnline.store.reader import Reader


def option(parser: argparse.ArgumentParser) -> None:
    """The arguments of `logbook account`."""
    parser.add_argument("--at", metavar="TIME", help="as of this time instead of now")
    parser.add_argument("--json", action="store_true", help="as a JSON object")


def show(settings: Settings, time: str | None, *, as_json: bool) -> int:
    """Print the account: 1 where there is none."""
    zone = settings.pond.zone
    at = as_of(time, zone)
    with Reader.open(settings.store.path) as reader:
        found = account_of(reader, settings, at)
    if as_json:
        print(json.dumps(words.as_json(found.account, found.line, zone), ensure_ascii=False))
    else:
        print("\n".join(words.lines(found.account, found.line, zone, settings.pond.volume_litres or 0.0)))
    return 1 if found.account.why_not else 0
