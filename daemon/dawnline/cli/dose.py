"""`dawnline dose`: plans what may be put into the water, and refuses what is unsafe. It never acts."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from dawnline.cli.known_water import Known, known_water
from dawnline.cli.second_word import second_word
from dawnline.dosing import words
from dawnline.dosing.from_record import MAGNESIUM_SHARE, kh_fact
from dawnline.dosing.lower_ph import Conditions, lower_ph
from dawnline.dosing.plan import Plan
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.dosing.raise_kh import raise_kh
from dawnline.dosing.shell import Between, between_two_tests, shell
from dawnline.dosing.water_change import Source, water_change
from dawnline.errors import InputError, SettingsError
from dawnline.outlook.hardness import bounds as kit_bounds
from dawnline.outlook.hardness import finest_step
from dawnline.outlook.settings import LimitSettings
from dawnline.typed import measures as m
from dawnline.typed.measure import Measure
from dawnline.typed.quantity import Typed, Units, parse, plain_number
from dawnline.water.units import calcium_mmol_l_from_dgh, meq_l_from_dkh

GIVEN: Final = "given"


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.epilog = "Exit status: 0 where there is a plan, 1 where it is refused, 2 where the call is wrong."
    word = second_word(parser)
    raising = word("raise-kh", "grams of sodium bicarbonate to a KH, and over how many days")
    raising.add_argument("--to", metavar="KH", required=True, help="the KH wanted, such as 5dKH or 90ppm")
    raising.add_argument("--with", dest="substance", metavar="WHAT", default="sodium bicarbonate", help="what you have")
    raising.add_argument("--days", type=_days, metavar="N", help="in how many days at most")
    lowering = word("lower-ph", "what to do about a pH that is high in the afternoon")
    lowering.add_argument("--with", dest="substance", metavar="WHAT", help="such as vinegar: whether and how much")
    lowering.add_argument("--amount", metavar="VOLUME", help="what this much of it would do, such as 100mL")
    lowering.add_argument("--strength", metavar="PERCENT", default="5", help="of the vinegar (default: 5)")
    lowering.add_argument("--target", metavar="PH", help="refused: acid is never added to reach a pH")
    lowering.add_argument("--air", choices=("on", "off"), help="whether the air pump runs")
    lowering.add_argument("--part-of-day", choices=("morning", "day", "dusk", "night"), help="default: by the sun")
    changing = word("water-change", "what a part water change does to KH, pH, temperature and ammonia")
    changing.add_argument("--share", metavar="SHARE", help="of the pond, such as 15%% or 0.15")
    changing.add_argument("--amount", metavar="VOLUME", help="instead: how much, such as 2000L or 500 gal")
    changing.add_argument("--source-kh", metavar="KH", help="of the new water")
    changing.add_argument("--source-ph", metavar="PH", help="of the new water")
    changing.add_argument("--source-temperature", metavar="T", help="of the new water")
    changing.add_argument("--source-ammonia", metavar="TAN", help="of the new water, such as 0.5mg/L N")
    shelling = word("shell", "what the shell in the filter has been delivering", "From the logbook, or from two tests.")
    shelling.add_argument("--kh-then", metavar="KH", help="an earlier test, beside --kh; with --days and --feed")
    shelling.add_argument("--days", type=float, metavar="N", help="between the two tests")
    shelling.add_argument("--feed", metavar="FEED", help="between them, such as 130g/day; 0g/day for none")
    shelling.add_argument("--protein", metavar="PERCENT", help="of the feed, such as 38%%")
    for sub in (raising, lowering, changing, shelling):
        _water(sub)


def _water(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("the pond's water", "what is not given comes from the record, if there is one")
    group.add_argument("--volume", metavar="VOLUME", help="such as 14000L, 14m3, 3700 gal")
    group.add_argument("--kh", metavar="KH", help="such as 3drops, 2.5dKH, 45ppm")
    group.add_argument("--drop", metavar="KH", help="what one drop of the kit stands for (default: 1dKH)")
    group.add_argument("--ph", metavar="PH", help="now")
    group.add_argument("--dusk-ph", metavar="PH", help="the highest of an ordinary afternoon")
    group.add_argument("--dawn-ph", metavar="PH", help="the lowest of an ordinary night")
    group.add_argument("--temperature", metavar="T", help="such as 18C, 64F")
    group.add_argument("--ammonia", metavar="TAN", help="total, tested within three days: 0.5mg/L N, 0.5mg/L NH4")
    group.add_argument("--gh", metavar="GH", help="total hardness, such as 8dGH")
    group.add_argument("--crashed", action="store_true", help="the pond has crashed within the last three days")
    parser.add_argument("--at", metavar="TIME", help="as of this time instead of now")
    parser.add_argument("--json", action="store_true", help="as a JSON object")


def run(args: argparse.Namespace) -> int:
    """Run it: 0 where there is a plan, 1 where it is refused."""
    plan, units = plan_of(args)
    print(json.dumps(words.as_json(plan), ensure_ascii=False) if args.json else "\n".join(words.lines(plan, units)))
    return 1 if plan.refused else 0


def plan_of(args: argparse.Namespace) -> tuple[Plan, Units]:
    """The plan that was asked for, and the units to show it in. Raises SettingsError for a figure that is none."""
    known = known_water(args.config, args.at)
    try:
        pond = _given(args, known)
        return replace(_plan(args, pond, known), values=pond.values()), known.units
    except ValueError as error:  # outside what the chemistry holds for
        raise SettingsError(f"dose {args.what}: {error}") from None


def _plan(args: argparse.Namespace, pond: PondWater, known: Known) -> Plan:
    if args.what == "raise-kh":
        return raise_kh(pond, _read("--to", args.to, m.ALKALINITY).value, args.substance, args.days)
    if args.what == "lower-ph":
        return _lower(args, pond, known)
    if args.what == "shell":
        return _shell(args, pond, known)
    return _change(args, pond)


def _lower(args: argparse.Namespace, pond: PondWater, known: Known) -> Plan:
    conditions = Conditions(
        args.part_of_day or known.part_of_day,
        None if args.air is None else args.air == "on",
        known.days_since_acid,
        _value("--target", args.target, m.PH),
    )
    litres = _value("--amount", args.amount, m.VOLUME)
    return lower_ph(
        pond,
        conditions,
        substance=args.substance,
        millilitres=None if litres is None else 1000.0 * litres,
        grams_a_litre=10.0 * _read("--strength", args.strength, m.PERCENT).value,
    )


def _shell(args: argparse.Namespace, pond: PondWater, known: Known) -> Plan:
    if args.kh_then is None:
        return shell(pond, known.account)
    missing = [name for name in ("kh", "days", "feed") if getattr(args, name) is None]
    if missing:
        raise SettingsError(f"shell: beside --kh-then give {', '.join(f'--{name}' for name in missing)}")
    drop = _drop(args)
    then, now = (
        _read(name, text, m.ALKALINITY, drop) for name, text in (("--kh-then", args.kh_then), ("--kh", args.kh))
    )
    feed = _read("--feed", args.feed, m.FEED_RATE).value
    protein = _value("--protein", args.protein, m.PERCENT)
    bounds = [kit_bounds(each.value, each.step or finest_step([then.value, now.value])) for each in (then, now)]
    return between_two_tests(pond, Between(bounds[0], bounds[1], args.days, feed, protein))


def _drop(args: argparse.Namespace) -> float:
    return 1.0 if args.drop is None else _read("--drop", args.drop, m.ALKALINITY).value


def _change(args: argparse.Namespace, pond: PondWater) -> Plan:
    if (args.share is None) == (args.amount is None):
        raise SettingsError("water-change: give either --share, such as 15%, or --amount, such as 2000L")
    if args.share is not None:
        share = _share(args.share)
    else:
        litres = _read("--amount", args.amount, m.VOLUME).value
        share = 0.0 if pond.litres is None else litres / pond.litres.value
    source = Source(
        kh=_fact(_value("--source-kh", args.source_kh, m.ALKALINITY), meq_l_from_dkh),
        ph=_fact(_value("--source-ph", args.source_ph, m.PH)),
        celsius=_fact(_value("--source-temperature", args.source_temperature, m.TEMPERATURE)),
        tan=_fact(_value("--source-ammonia", args.source_ammonia, m.AMMONIA)),
    )
    return water_change(pond, share, source)


def _given(args: argparse.Namespace, known: Known) -> PondWater:
    """What the record says, and over it what was given."""
    pond = replace(known.water, units=known.units)
    litres = _fact(_value("--volume", args.volume, m.VOLUME))
    ph = _fact(_value("--ph", args.ph, m.PH))
    gh = _value("--gh", args.gh, m.HARDNESS)
    pond = replace(
        pond,
        litres=litres or pond.litres,
        ph=ph or pond.ph,
        dusk_ph=_fact(_value("--dusk-ph", args.dusk_ph, m.PH)) or pond.dusk_ph,
        dawn_ph=_fact(_value("--dawn-ph", args.dawn_ph, m.PH)) or pond.dawn_ph,
        celsius=_fact(_value("--temperature", args.temperature, m.TEMPERATURE)) or pond.celsius,
        tan=_fact(_value("--ammonia", args.ammonia, m.AMMONIA)) or pond.tan,
        calcium=pond.calcium if gh is None else Fact(calcium_mmol_l_from_dgh(gh, MAGNESIUM_SHARE), GIVEN),
    )
    if args.kh is not None:
        read = _read("--kh", args.kh, m.ALKALINITY, _drop(args))
        kh, low = kh_fact(read.value, read.step, GIVEN)
        pond = replace(pond, kh=kh, kh_low=low)
    limits = LimitSettings() if known.settings is None else known.settings.limits
    if args.crashed:
        return replace(pond, crashed="you say so")
    if ph is not None and ph.value < limits.ph_low and not pond.crashed:
        return replace(pond, crashed=f"its pH is {ph.value:.2f}, below {limits.ph_low:g}")
    return pond


def _days(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 365:
        raise argparse.ArgumentTypeError(f"found {text!r}, expected a number of days from 1 to 365")
    return int(text)


def _read(option: str, text: str, measure: Measure, drop: float = 1.0) -> Typed:
    """A quantity as typed. Raises SettingsError that names the option."""
    try:
        return parse(text, measure, drop=drop)
    except InputError as error:
        raise SettingsError(f"{option}: {error}") from None


def _value(option: str, text: str | None, measure: Measure) -> float | None:
    return None if text is None else _read(option, text, measure).value


def _share(text: str) -> float:
    """A share as 15% or 0.15; a bare 15 could be either and is refused."""
    try:
        share = plain_number(text)
    except InputError:
        return _read("--share", text, m.SHARE).value
    if share > 1.0:
        raise SettingsError(f"--share: found {text!r}, expected a share such as {text}% or 0.15")
    return share


def _fact(value: float | None, convert: Callable[[float], float] | None = None) -> Fact | None:
    return None if value is None else Fact(convert(value) if convert else value, GIVEN)
