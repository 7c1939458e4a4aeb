"""The figures that `dose` takes: for each option what it measures and how it may be typed, in one table."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from dawnline.dosing.pond_water import Fact
from dawnline.errors import InputError, SettingsError
from dawnline.typed import measures as m
from dawnline.typed.measure import Measure
from dawnline.typed.quantity import Typed, parse, plain_number

GIVEN: Final = "given"


class Figure(NamedTuple):
    """One option."""

    metavar: str
    measure: Measure
    help: str


FIGURES: Final = {
    # what is wanted
    "to": Figure("KH", m.ALKALINITY, "the KH wanted, such as 5dKH or 90ppm"),
    "strength": Figure("PERCENT", m.PERCENT, "of the vinegar (default: 5)"),
    "target": Figure("PH", m.PH, "refused: acid is never added to reach a pH"),
    "share": Figure("SHARE", m.SHARE, "of the pond, such as 15%% or 0.15"),
    "source-kh": Figure("KH", m.ALKALINITY, "of the new water"),
    "source-ph": Figure("PH", m.PH, "of the new water"),
    "source-temperature": Figure("T", m.TEMPERATURE, "of the new water"),
    "source-ammonia": Figure("TAN", m.AMMONIA, "of the new water, such as 0.5mg/L N"),
    "kh-then": Figure("KH", m.ALKALINITY, "an earlier test, beside --kh; with --days and --feed"),
    "feed": Figure("FEED", m.FEED_RATE, "between them, such as 130g/day; 0g/day for none"),
    "protein": Figure("PERCENT", m.PERCENT, "of the feed, such as 38%%"),
    # the pond's water
    "volume": Figure("VOLUME", m.VOLUME, "such as 14000L, 14m3, 3700 gal"),
    "kh": Figure("KH", m.ALKALINITY, "such as 3drops, 2.5dKH, 45ppm"),
    "drop": Figure("KH", m.ALKALINITY, "what one drop of the kit stands for (default: 1dKH)"),
    "ph": Figure("PH", m.PH, "now"),
    "dusk-ph": Figure("PH", m.PH, "the highest of an ordinary afternoon"),
    "dawn-ph": Figure("PH", m.PH, "the lowest of an ordinary night"),
    "temperature": Figure("T", m.TEMPERATURE, "such as 18C, 64F"),
    "ammonia": Figure("TAN", m.AMMONIA, "total, tested within three days: 0.5mg/L N, 0.5mg/L NH4"),
    "gh": Figure("GH", m.HARDNESS, "total hardness, such as 8dGH"),
    "amount": Figure("VOLUME", m.VOLUME, "how much, such as 100mL, 2000L or 500 gal"),
}
WATER: Final = ("volume", "kh", "drop", "ph", "dusk-ph", "dawn-ph", "temperature", "ammonia", "gh")


def options(to: argparse._ActionsContainer, *names: str, **more: Any) -> None:
    """Add these options; `more` is said of each of them."""
    for name in names:
        figure = FIGURES[name]
        to.add_argument(f"--{name}", **{"metavar": figure.metavar, "help": figure.help, **more})


def typed(args: argparse.Namespace, name: str, drop: float = 1.0) -> Typed | None:
    """What was given, as it was typed; None where nothing was. Raises SettingsError that names the option."""
    text = getattr(args, name.replace("-", "_"))
    try:
        return None if text is None else parse(text, FIGURES[name].measure, drop=drop)
    except InputError as error:
        raise SettingsError(f"--{name}: {error}") from None


def value(args: argparse.Namespace, name: str) -> float | None:
    """The figure in the base of its measure."""
    found = typed(args, name)
    return None if found is None else found.value


def fact(args: argparse.Namespace, name: str, convert: Callable[[float], float] = float) -> Fact | None:
    """The same as a fact of the water."""
    found = value(args, name)
    return None if found is None else Fact(convert(found), GIVEN)


def share(args: argparse.Namespace) -> float | None:
    """A share as 15% or 0.15; a bare 15 could be either and is refused."""
    if args.share is None:
        return None
    try:
        found = plain_number(args.share)
    except InputError:
        return value(args, "share")
    if found > 1.0:
        raise SettingsError(f"--share: found {args.share!r}, expected a share such as {args.share}% or 0.15")
    return found
