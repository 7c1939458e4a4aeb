"""`dawnline run`: the service, in the foreground."""

from __future__ import annotations

import argparse
import os

from dawnline.errors import SettingsError
from dawnline.secret import keep_out_of_cores
from dawnline.settings_ponds import find_configs, load_ponds

LEVELS = ("debug", "info", "warning", "error")


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument(
        "--log",
        choices=LEVELS,
        default=os.environ.get("DAWNLINE_LOG") or "info",
        help="how much is logged to standard error (default: $DAWNLINE_LOG, then info)",
    )


def run(args: argparse.Namespace) -> int:
    """Run it."""
    if args.log not in LEVELS:  # argparse lets a default pass
        raise SettingsError(f"DAWNLINE_LOG: found {args.log!r}, expected one of {', '.join(LEVELS)}")
    keep_out_of_cores()
    ponds = load_ponds(find_configs(args.config))
    from dawnline.service.log import configure
    from dawnline.service.run import serve

    configure(args.log)
    serve(ponds)
    return 0
