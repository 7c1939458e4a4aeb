"""`dawnline probes`: list them; take one out of service and return it."""

from __future__ import annotations

import argparse

from dawnline.cli.ask import ask
from dawnline.settings import find_config, load


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    acts = parser.add_subparsers(dest="what", metavar="WHAT", required=True)
    acts.add_parser("list", help="the probes of the configuration")
    out = acts.add_parser("out-of-service", help="its readings count for nothing meanwhile; it returns by itself")
    out.add_argument("name", metavar="NAME", help="the probe")
    out.add_argument("--for", dest="lasting", metavar="TIME", required=True, help='how long, such as "30m"')
    back = acts.add_parser("return", help="it is back")
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
