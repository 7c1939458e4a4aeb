"""`dawnline alarms`: list, explain, acknowledge, shelve, unshelve, journal, report."""

from __future__ import annotations

import argparse
import json
from zoneinfo import ZoneInfo

from dawnline.cli import alarms_journal
from dawnline.cli.alarm_row import alarm_row
from dawnline.cli.post_rows import post_rows
from dawnline.cli.present import Present, find_present
from dawnline.cli.second_word import second_word
from dawnline.settings import find_config, load


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    add = second_word(parser)
    add("list", "every alarm that is not normal").add_argument("--json", action="store_true", help="as a JSON object")
    add("explain", "what an alarm means and what to do").add_argument(
        "which", metavar="NAME|ID", help="an alarm's name, such as ph-low, or the number of an open one"
    )
    for name, text, more in (
        ("acknowledge", "say that you have it", ""),
        ("shelve", "hide it for a stated time", "A week at most, a day where it is of high priority; it comes back "
         "by itself, and at once where it becomes more urgent."),
        ("unshelve", "show it again", ""),
    ):  # fmt: skip
        act = add(name, text, more)
        many = "+" if name == "acknowledge" else None
        act.add_argument("id", metavar="ID", type=int, nargs=many, help="the alarm's number, as `list` shows it")
        if name == "shelve":
            act.add_argument("--for", dest="lasting", metavar="TIME", required=True, help='how long, such as "2h"')
            act.add_argument("--why", metavar="TEXT", help="kept in the journal and shown in the list")
    alarms_journal.arguments(add("journal", "every move an alarm made: when, by whom, why"))
    alarms_journal.arguments(
        add(
            "report",
            "how many, how soon acknowledged, which a nuisance",
            "Beside the guides of ISA-18.2 and EEMUA 191.",
        )
    )


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    if args.what == "list":
        return _list(find_present(settings), settings.pond.zone, as_json=args.json)
    if args.what == "explain":
        from dawnline.cli.alarms_explain import explain

        return explain(settings, args.which)
    if args.what in ("journal", "report"):
        return (alarms_journal.journal if args.what == "journal" else alarms_journal.report)(settings, args)
    from dawnline.cli.ask import ask

    if args.what == "acknowledge":
        return max(ask(settings, args.what, {"id": episode}) for episode in args.id)
    body = {"id": args.id}
    if args.what == "shelve":
        body |= {"for": args.lasting} | ({} if args.why is None else {"why": args.why})
    return ask(settings, args.what, body)


def _list(present: Present, zone: ZoneInfo, *, as_json: bool) -> int:
    rows, post = present.data["alarms"], present.data.get("post", {})
    if as_json:
        whole = {"version": 1, "running": present.running, "alarms": rows, "post": post}
        print(json.dumps(whole, ensure_ascii=False))
    else:
        print(present.headline())
        print("\n".join(alarm_row(row) for row in rows) or "no alarm is open")
        waiting = post_rows(post, zone)
        print("\n".join(["", *waiting]), end="\n" if waiting else "")
    return 0
