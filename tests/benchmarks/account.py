"""The buffer's account against the truth of simulated ponds: how far it is off, beside "the last test still holds".

Fifty ponds over sixty days: shell or none, feed that changes, rain (some of it off a roof that the account does not
know of), water changes with and without a known KH, doses when KH runs low. The keeper tests KH by a kit of 1 dKH, once
a week or once in thirty days; every act is logged. Compared with the pond's true alkalinity each noon from the eighth
day on. The simulator has the same stoichiometry and much the same curve for cold and acid water as the account, so it
flatters; what it hides from it are the filter's reserve, the shell, the roof and the ammonia that waits in the water.

A second run takes ponds of the harder model, which shares no process with either.

Usage: account.py [--dev] [--ponds N] [--hard N]: --dev takes other ponds, for trying things out.
"""

from __future__ import annotations

import argparse
import sys
from math import ceil
from pathlib import Path
from random import Random
from statistics import fmean, quantiles
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent))

from account_ponds import DAYS, Truth, act, hard, plain

from dawnline.account.account import account
from dawnline.account.lines import Stepped, lines_of
from dawnline.water.units import dkh_from_meq_l, meq_l_from_dkh

KIT_DKH = 1.0
EVERY = (7, 30)


def read(alkalinity: float, dice: Random) -> float:
    """What a kit of 1 dKH shows: the drop at which the colour turns, by an eye that is a little off."""
    return max(ceil(dkh_from_meq_l(alkalinity) / KIT_DKH + dice.gauss(0.0, 0.15)), 1) * KIT_DKH


def after_known_steps(alkalinity: float, pond: Truth, since: int, at: int) -> float:
    """The last test, with what was dosed, rained and changed since: a keeper who reckons, but for the daily loss."""
    for line in lines_of(pond.logged, pond.settings):
        if isinstance(line, Stepped) and since < line.at <= at:
            alkalinity = line.keeps * alkalinity + ((1 - line.keeps) * alkalinity if line.adds is None else line.adds)
    return alkalinity


class Found(NamedTuple):
    """Errors in dKH, day by day; and how often the truth lay within eight-of-ten bounds."""

    ours: list[float]
    holds: list[float]
    known_steps: list[float]
    within: list[bool]


def judge(pond: Truth, every: int, seed: int) -> Found:
    """The account of one pond with a test every so many days."""
    dice, found = Random(f"kit/{seed}/{every}"), Found([], [], [], [])
    tests = []
    for day, (at, alkalinity) in enumerate(pond.noons):
        if day % every == 0:
            tests.append(act(at, "hand-test", kh_dkh=read(alkalinity, dice), kh_step_dkh=KIT_DKH))
        if day < 8:
            continue
        said = account([*pond.logged, *tests], pond.climate, pond.settings, at)
        point = said.points[-1]
        found.ours.append(dkh_from_meq_l(point.alkalinity - alkalinity))
        last = tests[-1].body["kh_dkh"] - KIT_DKH / 2.0
        found.holds.append(last - dkh_from_meq_l(alkalinity))
        stepped = after_known_steps(meq_l_from_dkh(last), pond, tests[-1].at, at)
        found.known_steps.append(dkh_from_meq_l(stepped - alkalinity))
        found.within.append(abs(point.alkalinity - alkalinity) <= 1.2816 * point.sd)
    return found


def row(name: str, errors: list[float]) -> str:
    sizes = sorted(abs(error) for error in errors)
    ninth = quantiles(sizes, n=10)[-1]
    return f"  {name:<28} mean {fmean(sizes):.2f}   nine of ten within {ninth:.2f}   bias {fmean(errors):+.2f}"


def report(name: str, ponds: list[Truth], first: int) -> None:
    print(f"{len(ponds)} {name} ponds, {DAYS} days, kit of {KIT_DKH:g} dKH; error of KH in dKH")
    for every in EVERY:
        found = [judge(pond, every, first + n) for n, pond in enumerate(ponds)]
        print(f"a test every {every} days")
        print(row("the account", [error for each in found for error in each.ours]))
        print(row("the last test still holds", [error for each in found for error in each.holds]))
        print(row("the same with known steps", [error for each in found for error in each.known_steps]))
        within = fmean(inside for each in found for inside in each.within)
        better = sum(fmean(map(abs, each.ours)) < fmean(map(abs, each.holds)) for each in found)
        print(f"  bounds meant for eight in ten hold {within:.0%}; better than the last test in {better} ponds")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--dev", action="store_true", help="other ponds, for trying things out")
    parser.add_argument("--ponds", type=int, default=50)
    parser.add_argument("--hard", type=int, default=20, metavar="N", help="and so many of the second model")
    args = parser.parse_args()
    first = 10_000 if args.dev else 0
    for name, make, number in (("the simulator's", plain, args.ponds), ("hard", hard, args.hard)):
        ponds = [make(first + n) for n in range(number)]
        if ponds:
            report(name, ponds, first)
    return 0


if __name__ == "__main__":
    sys.exit(main())
