"""`dawnline dose`: plans what may be put into the water, and refuses what is unsafe. It never acts."""

from __future__ import annotations

import argparse
import json
import os
from shlex import quote
from typing import Any, Final

from dawnline.cli.moment import as_of
from dawnline.cli.second_word import second_word
from dawnline.dosing import words
from dawnline.dosing.asked import AIR, PARTS_OF_DAY, Known, plan_asked
from dawnline.dosing.figures import FIGURES, WATER, Given
from dawnline.dosing.pond_water import PondWater
from dawnline.errors import SettingsError
from dawnline.queries.known_water import known_water
from dawnline.settings import find_config, load

TYPED: Final = (*FIGURES, "with", "days", "air", "part-of-day")


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.epilog = "Exit status: 0 where there is a plan, 1 where it is refused, 2 where the call is wrong."
    word = second_word(parser)
    raising = word("raise-kh", "grams of sodium bicarbonate to a KH, and over how many days")
    _figures(raising, "to", required=True)
    raising.add_argument("--with", metavar="WHAT", help="what you have (default: sodium bicarbonate)")
    raising.add_argument("--days", metavar="N", help="in how many days at most")
    lowering = word("lower-ph", "what to do about a pH that is high in the afternoon")
    lowering.add_argument("--with", metavar="WHAT", help="such as vinegar: whether and how much")
    _figures(lowering, "amount", help="what this much of it would do, such as 100mL")
    _figures(lowering, "strength", "target")
    lowering.add_argument("--air", choices=AIR, help="whether the air pump runs")
    lowering.add_argument("--part-of-day", choices=PARTS_OF_DAY, help="default: by the sun")
    changing = word("water-change", "what a part water change does to KH, pH, temperature and ammonia")
    changing.add_argument("bare", nargs="*", help=argparse.SUPPRESS)  # only to say which option it belongs to
    _figures(changing, "share")
    _figures(changing, "amount", help="instead: how much, such as 2000L or 500 gal")
    _figures(changing, "source-kh", "source-ph", "source-temperature", "source-ammonia")
    shelling = word("shell", "what the shell in the filter has been delivering", "From the logbook, or from two tests.")
    _figures(shelling, "kh-then")
    shelling.add_argument("--days", metavar="N", help="between the two tests")
    _figures(shelling, "feed", "protein")
    for sub in (raising, lowering, changing, shelling):
        _water(sub)


def _water(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("the pond's water", "what is not given comes from the record, if there is one")
    _figures(group, *WATER)
    group.add_argument("--crashed", action="store_true", help="the pond has crashed within the last three days")
    parser.add_argument("--at", metavar="TIME", help="as of this time instead of now")
    parser.add_argument("--json", action="store_true", help="as a JSON object")


def _figures(to: argparse._ActionsContainer, *names: str, **more: Any) -> None:
    """Add an option for each of these figures; `more` is said of each of them."""
    for name in names:
        figure = FIGURES[name]
        told = {"metavar": figure.metavar, "help": figure.help.replace("%", "%%"), **more}
        to.add_argument(f"--{name}", **told)


def run(args: argparse.Namespace) -> int:
    """Run it: 0 where there is a plan, 1 where it is refused."""
    _refuse(" ".join(getattr(args, "bare", ())))
    known = _known(args)
    plan = plan_asked(args.what, _given(args), known)
    shown = words.lines(plan, known.water.units)
    print(json.dumps(words.as_json(plan), ensure_ascii=False) if args.json else "\n".join(shown))
    return 1 if plan.refused else 0


def _refuse(bare: str) -> None:
    """Raises SettingsError for a share or an amount without its option, and names that."""
    if not bare:
        return
    try:
        Given({"amount": bare}).value("amount")
        option = "amount"
    except SettingsError:
        option = "share"
    raise SettingsError(f"water-change: found {bare!r}, expected --{option} {quote(bare)}")


def _given(args: argparse.Namespace) -> Given:
    texts = {name: getattr(args, name.replace("-", "_"), None) for name in TYPED}
    crashed = {"crashed": "yes"} if args.crashed else {}
    return Given({name: text for name, text in texts.items() if text is not None} | crashed)


def _known(args: argparse.Namespace) -> Known:
    """What is known of the pond; nothing where no configuration was named and none is there."""
    path = find_config(args.config)
    if args.config is None and "DAWNLINE_CONFIG" not in os.environ and not path.exists():
        return Known(PondWater())
    settings = load(path)
    return known_water(settings, as_of(args.at, settings.pond.zone))
