"""`dawnline alarms`: list, acknowledge, shelve, unshelve."""

from __future__ import annotations

import argparse
import json

from dawnline.cli.alarm_row import alarm_row
from dawnline.cli.present import Present, find_present
from dawnline.cli.second_word import second_word
from dawnline.settings import find_config, load


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    add = second_word(parser)
    add("list", "every alarm that is not normal").add_argument("--json", action="store_true", help="as a JSON object")
    for name, text in (
        ("acknowledge", "say that you have it"),
        ("shelve", "hide it for a stated time"),
        ("unshelve", "show it again"),
    ):
        act = add(name, text)
        act.add_argument("id", metavar="ID", type=int, help="the alarm's number, as `list` shows it")
        if name == "shelve":
            act.add_argument("--for", dest="lasting", metavar="TIME", required=True, help='how long, such as "2h"')


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    if args.what == "list":
        return _list(find_present(settings), as_json=args.json)
    from dawnline.cli.ask import ask

    body = {"id": args.id} | ({"for": args.lasting} if args.what == "shelve" else {})
    return ask(settings, args.what, body)


def _list(present: Present, *, as_json: bool) -> int:
    rows = present.data["alarms"]
    if as_json:
        print(json.dumps({"version": 1, "running": present.running, "alarms": rows}, ensure_ascii=False))
    else:
        print(present.headline())
        print("\n".join(alarm_row(row) for row in rows) or "no alarm is open")
    return 0
