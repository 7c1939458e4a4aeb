"""Foresight, measured: abnormal nights, calm ponds, the buffer's last day, tonight's low, on two pond models.

    python tests/benchmarks/foresight [--section nights] [--model hard] [--data DIR] [--quick] [--develop]

Seeds are fixed: ponds are taken from 1001 on for the report, from 1 on for development (--develop); a seed whose pond
does not do what the section asks (pass 6.5, stay calm, run out in time) is passed over, whatever the watch says.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import buffer
import calm
import cost
import nights
import peers
import records
import tonight
from story import MODELS

REPORT_FROM, DEVELOP_FROM = 1001, 1
ENOUGH = {"nights": 100, "calm": 34, "buffer": 100}
QUICK = {"nights": 3, "calm": 2, "buffer": 2}
SECTIONS: dict[str, Any] = {"nights": nights, "calm": calm, "buffer": buffer, "tonight": tonight}
TITLES = {
    "nights": "Abnormal nights: warned before the true pH passes 6.5",
    "calm": "Calm ponds: false wakes",
    "buffer": "Buffer: the day the dawn low passes 6.5",
    "tonight": "Tonight: the coming dawn low",
}
PASSED_OVER_MOST = 40  # seeds tried per pond wanted, before giving up


Map = Callable[[Callable[[int], Any], Iterable[int]], Iterable[Any]]


def gather(over: Map, work: Callable[[int], Any], first: int, wanted: int) -> tuple[list[Any], int]:
    """The first `wanted` ponds that serve, in the order of their seeds, and the last seed tried."""
    found: list[Any] = []
    seed = first
    while len(found) < wanted and seed < first + PASSED_OVER_MOST * wanted:
        batch = range(seed, seed + wanted - len(found))
        for seed, outcome in zip(batch, over(work, batch), strict=True):
            if outcome is not None:
                found.append(outcome)
                last = seed
        seed += 1
    return found, last if found else seed


def arguments() -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(prog="foresight", description=__doc__.splitlines()[0])
    parser.add_argument("--section", choices=[*SECTIONS, "cost", "records"], action="append")
    parser.add_argument("--model", choices=MODELS, action="append")
    parser.add_argument("--data", type=Path, metavar="DIR", help="public records, for section records")
    parser.add_argument("--ponds", type=int, help="how many a section, instead of its own number")
    parser.add_argument("--hard-ponds", type=int, help="no more than so many of the hard model, which is slower")
    parser.add_argument("--quick", action="store_true", help="a few ponds each, in about a minute")
    parser.add_argument("--develop", action="store_true", help="the development seeds")
    parser.add_argument("--cache", type=Path, metavar="DIR", help="keep the ponds (not the results) for the next run")
    parser.add_argument("--processes", type=int, default=2)
    return parser.parse_args()


def main() -> int:
    """Print the tables."""
    args = arguments()
    if peers.PageHinkley is None:
        print("river is not installed: the change detector is left out (pip install river)", file=sys.stderr)
    first = DEVELOP_FROM if args.develop else REPORT_FROM
    wanted = QUICK if args.quick else ENOUGH
    begun = time.perf_counter()
    with ExitStack() as stack:
        over: Map = map if args.processes == 1 else stack.enter_context(Pool(args.processes)).imap
        for model in args.model or MODELS:
            ponds: dict[str, tuple[list[Any], int]] = {}
            for name in [name for name in SECTIONS if not args.section or name in args.section]:
                asked = "calm" if name == "tonight" else name
                if asked not in ponds:
                    work = partial(SECTIONS[asked].one, model, cache=args.cache)
                    count = args.ponds or wanted[asked]
                    if model == "hard" and args.hard_ponds:
                        count = min(count, args.hard_ponds)
                    ponds[asked] = gather(over, work, first, count)
                found, last = ponds[asked]
                text = SECTIONS[name].report(found) if found else "no pond of these seeds serves"
                print(f"### {TITLES[name]} ({model} model, seeds {first} to {last})\n\n{text}\n", flush=True)
    if not args.section or "cost" in args.section:
        print(f"### Cost\n\n{cost.report(first, rounds=1 if args.quick else 3)}\n", flush=True)
    if args.data:
        print(f"### Public records\n\n{records.report(args.data)}\n")
    elif args.section and "records" in args.section:
        print("records need --data DIR", file=sys.stderr)
        return 2
    print(f"{time.perf_counter() - begun:.0f} s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
