"""`dawnline alarms`: list, acknowledge, shelve, unshelve."""

from __future__ import annotations

import argparse
import json
from datetime import datetime
from typing import Any

from dawnline.cli.ask import ask
from dawnline.cli.present import Present, find_present
from dawnline.settings import find_config, load


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    acts = parser.add_subparsers(dest="what", metavar="WHAT", required=True)
    listing = acts.add_parser("list", help="every alarm that is not normal")
    listing.add_argument("--json", action="store_true", help="as a JSON object")
    for name, text in (
        ("acknowledge", "say that you have it"),
        ("shelve", "hide it for a stated time"),
        ("unshelve", "show it again"),
    ):
        act = acts.add_parser(name, help=text)
        act.add_argument("id", metavar="ID", type=int, help="the alarm's number, as `list` shows it")
        if name == "shelve":
            act.add_argument("--for", dest="lasting", metavar="TIME", required=True, help='how long, such as "2h"')


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    if args.what == "list":
        return _list(find_present(settings), as_json=args.json)
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


def alarm_row(row: dict[str, Any]) -> str:
    """One open alarm in a line or two."""
    number = "-" if row["id"] is None else row["id"]
    since = f" since {datetime.fromisoformat(row['since']):%a %d %b %H:%M}" if row["since"] else ""
    until = f", until {datetime.fromisoformat(row['until']):%a %d %b %H:%M}" if row["until"] else ""
    by = f" by {row['by']}" if row["by"] else ""
    head = f"{number:>4}  {row['priority']:<7}{row['alarm']}" + (f" [{row['probe']}]" if row["probe"] else "")
    text = f"\n      {row['text']}" if row["text"] else ""
    return f"{head}: {row['state']}{by}{since}{until}{text}"
