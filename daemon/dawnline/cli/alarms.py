"""`dawnline alarms`: list, explain, acknowledge, shelve, unshelve, journal, report."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from dawnline.cli import alarms_journal
from dawnline.cli.alarm_row import alarm_rows
from dawnline.cli.post_rows import post_rows
from dawnline.cli.second_word import second_word
from dawnline.errors import StoreError
from dawnline.queries.present import Present, find_present
from dawnline.settings import Settings, find_config, load
from dawnline.settings_ponds import find_configs, load_ponds


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
    if args.what == "list":
        return _list_all(load_ponds(find_configs(args.config)), as_json=args.json)
    settings = load(find_config(args.config))
    if args.what == "explain":
        from dawnline.cli.alarms_explain import explain

        return explain(settings, args.which)
    if args.what in ("journal", "report"):
        return (alarms_journal.journal if args.what == "journal" else alarms_journal.report)(settings, args)
    from dawnline.cli.ask import ask

    if args.what == "acknowledge":
        heads = [f"{episode}: " if len(args.id) > 1 else "" for episode in args.id]
        return max(ask(settings, args.what, {"id": n}, head) for n, head in zip(args.id, heads, strict=True))
    body = {"id": args.id}
    if args.what == "shelve":
        body |= {"for": args.lasting} | ({} if args.why is None else {"why": args.why})
    return ask(settings, args.what, body)


def _list_all(ponds: Sequence[Settings], *, as_json: bool) -> int:
    """Those of one pond as they are; of many, pond after pond, as JSON a list with the name of each."""
    if len(ponds) == 1:
        present = find_present(ponds[0])
        print(_json(present) if as_json else _text(present, ponds[0].pond.zone))
        return 0
    said, status = [], 0
    for settings in ponds:
        name = settings.pond.name
        try:
            present = find_present(settings)
        except StoreError as error:  # the others are to be seen all the same
            said.append(
                json.dumps({"version": 1, "pond": name, "error": str(error)}) if as_json else f"{name}: {error}"
            )
            status = 1
        else:
            said.append(_json(present, pond=name) if as_json else _text(present, settings.pond.zone))
    print(f"[{', '.join(said)}]" if as_json else "\n\n".join(said))
    return status


def _json(present: Present, **more: str) -> str:
    data = present.data
    whole = {"version": 1, **more, "running": present.running, "alarms": data["alarms"], "post": data.get("post", {})}
    return json.dumps(whole, ensure_ascii=False)


def _text(present: Present, zone: ZoneInfo) -> str:
    rows = "\n".join(alarm_rows(present.data["alarms"])) or "no alarm is open"
    waiting = post_rows(present.data.get("post", {}), zone)
    return "\n".join([present.headline(), rows, *(["", *waiting] if waiting else [])])
