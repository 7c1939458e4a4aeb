"""`dawnline demo`: a simulated pond, the real service on a real pseudo-terminal, and a look back.

Ten calm days are written by the simulator and replayed into a store in a few seconds. Then the simulator speaks the
eleventh evening and night into a pseudo-terminal, in scaled time, and the service watches it as it would any night.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final

from dawnline.errors import SettingsError

SHORTEST_S: Final = 5.0  # a night in less would outrun the pseudo-terminal
LONGEST_S: Final = 3600.0


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="another weather and probe noise (default 1)")
    parser.add_argument(
        "--seconds", type=float, default=45.0, metavar="N", help="how long the night lasts here, 5 to 3600 (default 45)"
    )
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="where to put it all (default: a new temporary folder)"
    )


def run(args: argparse.Namespace) -> int:
    """Run it."""
    if not SHORTEST_S <= args.seconds <= LONGEST_S:
        raise SettingsError(f"--seconds: found {args.seconds:g}, expected {SHORTEST_S:g} to {LONGEST_S:g}")
    from dawnline.service.demo import demonstrate

    return demonstrate(args.seed, args.seconds, args.folder)
