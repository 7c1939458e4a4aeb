"""`dawnline demo`: a simulated pond, the real service on a real pseudo-terminal, and a look back.

Ten calm days are written by the simulator and replayed into a store in a few seconds. Then the simulator speaks the
eleventh evening and night into a pseudo-terminal, in scaled time, and the service watches it as it would any night.
"""

from __future__ import annotations

import argparse
from pathlib import Path


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument(
        "--seed", type=int, default=1, metavar="S", help="another pond weather and probe noise (default 1)"
    )
    parser.add_argument(
        "--seconds", type=float, default=45.0, metavar="N", help="how long the night lasts here (default 45)"
    )
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="where to put it all (default: a new temporary folder)"
    )


def run(args: argparse.Namespace) -> int:
    """Run it."""
    from dawnline.service.demo import demonstrate

    return demonstrate(args.seed, args.seconds, args.folder)
