"""`dawnline probes`: list them; calibrate or check one; take one out of service and return it."""

from __future__ import annotations

import argparse

from dawnline.cli.ask import ask
from dawnline.cli.second_word import second_word
from dawnline.settings import find_config, load

WALKS = ("calibrate", "check")


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    add = second_word(parser)
    listing = add("list", "the probes of the configuration, and what is known of their calibration")
    walk = add("calibrate", "lead through one, two or three buffer solutions")
    walk.add_argument("--buffers", metavar="LIST", default="7,10", help="by name or pH at 25 degC (default 7,10)")
    check = add("check", "see what it reads in one buffer solution; nothing is adjusted")
    check.add_argument("--buffer", metavar="NAME", default="7", help="by name or pH at 25 degC (default 7)")
    for sub in (walk, check):
        sub.add_argument(
            "--for",
            dest="lasting",
            metavar="TIME",
            help="out of service (default 30m; more, where the probe speaks seldom)",
        )
    history = add("history", "its calibrations, checks and cleanings, the trend, and when it will be worn out")
    out = add("out-of-service", "its readings count for nothing meanwhile; it returns by itself")
    out.add_argument("--for", dest="lasting", metavar="TIME", required=True, help='how long, such as "30m"')
    back = add("return", "it is back in service")
    for sub in (listing, history):
        sub.add_argument("--json", action="store_true", help="as a JSON object")
    for sub in (walk, check, history, out, back):
        sub.add_argument("name", metavar="NAME", help="the probe")


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    if args.what in WALKS:
        from dawnline.cli.probes_calibrate import calibrate

        return calibrate(settings, args)
    if args.what in ("list", "history"):
        from dawnline.cli.probes_history import show_history, show_list

        if args.what == "list":
            return show_list(settings, as_json=args.json)
        return show_history(settings, args.name, as_json=args.json)
    return ask(settings, args.what, {"probe": args.name} | ({"for": args.lasting} if "lasting" in args else {}))
