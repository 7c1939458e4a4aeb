"""`dawnline probes`: list them; take one out of service and return it."""

from __future__ import annotations

import argparse

from dawnline.cli.ask import ask
from dawnline.cli.second_word import second_word
from dawnline.settings import find_config, load


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    add = second_word(parser)
    add("list", "the probes of the configuration")
    out = add("out-of-service", "its readings count for nothing meanwhile; it returns by itself")
    out.add_argument("name", metavar="NAME", help="the probe")
    out.add_argument("--for", dest="lasting", metavar="TIME", required=True, help='how long, such as "30m"')
    back = add("return", "it is back in service")
    back.add_argument("name", metavar="NAME", help="the probe")


def run(args: argparse.Namespace) -> int:
    """Run it."""
    settings = load(find_config(args.config))
    if args.what == "list":
        for probe in settings.probes:
            print(f"{probe.name:<12} {probe.quantity:<18} {probe.link:<8} {probe.where}")
        return 0
    body = {"probe": args.name} | ({"for": args.lasting} if args.what == "out-of-service" else {})
    return ask(settings, args.what, body)
