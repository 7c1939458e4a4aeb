"""`dawnline dose`: plans what may be put into the water, and refuses what is unsafe. It never acts."""

from __future__ import annotations

import argparse
import json
import os
from dataclasses import replace

from dawnline.cli.dose_figures import GIVEN, WATER, fact, options, share, typed, value
from dawnline.cli.moment import as_of
from dawnline.cli.second_word import second_word
from dawnline.dosing import words
from dawnline.dosing.from_record import MAGNESIUM_SHARE, kh_fact
from dawnline.dosing.lower_ph import Conditions, lower_ph
from dawnline.dosing.plan import Plan
from dawnline.dosing.pond_water import Fact, PondWater
from dawnline.dosing.raise_kh import raise_kh
from dawnline.dosing.shell import Between, between_two_tests, shell
from dawnline.dosing.water_change import Source, water_change
from dawnline.errors import SettingsError
from dawnline.outlook.hardness import bounds as kit_bounds
from dawnline.outlook.hardness import finest_step
from dawnline.outlook.settings import LimitSettings
from dawnline.queries.known_water import Known, known_water
from dawnline.settings import find_config, load
from dawnline.typed.quantity import Units
from dawnline.water.units import calcium_mmol_l_from_dgh, meq_l_from_dkh


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of this command."""
    parser.epilog = "Exit status: 0 where there is a plan, 1 where it is refused, 2 where the call is wrong."
    word = second_word(parser)
    raising = word("raise-kh", "grams of sodium bicarbonate to a KH, and over how many days")
    options(raising, "to", required=True)
    raising.add_argument("--with", dest="substance", metavar="WHAT", default="sodium bicarbonate", help="what you have")
    raising.add_argument("--days", type=_days, metavar="N", help="in how many days at most")
    lowering = word("lower-ph", "what to do about a pH that is high in the afternoon")
    lowering.add_argument("--with", dest="substance", metavar="WHAT", help="such as vinegar: whether and how much")
    options(lowering, "amount", help="what this much of it would do, such as 100mL")
    options(lowering, "strength", default="5")
    options(lowering, "target")
    lowering.add_argument("--air", choices=("on", "off"), help="whether the air pump runs")
    lowering.add_argument("--part-of-day", choices=("morning", "day", "dusk", "night"), help="default: by the sun")
    changing = word("water-change", "what a part water change does to KH, pH, temperature and ammonia")
    options(changing, "share")
    options(changing, "amount", help="instead: how much, such as 2000L or 500 gal")
    options(changing, "source-kh", "source-ph", "source-temperature", "source-ammonia")
    shelling = word("shell", "what the shell in the filter has been delivering", "From the logbook, or from two tests.")
    options(shelling, "kh-then")
    shelling.add_argument("--days", type=float, metavar="N", help="between the two tests")
    options(shelling, "feed", "protein")
    for sub in (raising, lowering, changing, shelling):
        _water(sub)


def _water(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("the pond's water", "what is not given comes from the record, if there is one")
    options(group, *WATER)
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
    known = _known(args)
    try:
        pond = _given(args, known)
        return replace(_plan(args, pond, known), values=pond.values()), known.units
    except ValueError as error:  # outside what the chemistry holds for
        raise SettingsError(f"dose {args.what}: {error}") from None


def _known(args: argparse.Namespace) -> Known:
    """What is known of the pond; nothing where no configuration was named and none is there."""
    path = find_config(args.config)
    if args.config is None and "DAWNLINE_CONFIG" not in os.environ and not path.exists():
        return Known(PondWater())
    settings = load(path)
    return known_water(settings, as_of(args.at, settings.pond.zone))


def _plan(args: argparse.Namespace, pond: PondWater, known: Known) -> Plan:
    if args.what == "raise-kh":
        return raise_kh(pond, value(args, "to") or 0.0, args.substance, args.days)
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
        value(args, "target"),
    )
    litres = value(args, "amount")
    return lower_ph(
        pond,
        conditions,
        substance=args.substance,
        millilitres=None if litres is None else 1000.0 * litres,
        grams_a_litre=10.0 * (value(args, "strength") or 0.0),
    )


def _shell(args: argparse.Namespace, pond: PondWater, known: Known) -> Plan:
    if args.kh_then is None:
        return shell(pond, known.account)
    missing = [name for name in ("kh", "days", "feed") if getattr(args, name) is None]
    if missing:
        raise SettingsError(f"shell: beside --kh-then give {', '.join(f'--{name}' for name in missing)}")
    then, now = typed(args, "kh-then", _drop(args)), typed(args, "kh", _drop(args))
    feed = value(args, "feed")
    assert then is not None
    assert now is not None
    assert feed is not None
    bounds = [kit_bounds(each.value, each.step or finest_step([then.value, now.value])) for each in (then, now)]
    return between_two_tests(pond, Between(bounds[0], bounds[1], args.days, feed, value(args, "protein")))


def _drop(args: argparse.Namespace) -> float:
    given = value(args, "drop")
    return 1.0 if given is None else given


def _change(args: argparse.Namespace, pond: PondWater) -> Plan:
    if (args.share is None) == (args.amount is None):
        raise SettingsError("water-change: give either --share, such as 15%, or --amount, such as 2000L")
    part = share(args)
    if part is None:
        litres = value(args, "amount") or 0.0
        part = 0.0 if pond.litres is None else litres / pond.litres.value
    source = Source(
        kh=fact(args, "source-kh", meq_l_from_dkh),
        ph=fact(args, "source-ph"),
        celsius=fact(args, "source-temperature"),
        tan=fact(args, "source-ammonia"),
    )
    return water_change(pond, part, source)


def _given(args: argparse.Namespace, known: Known) -> PondWater:
    """What the record says, and over it what was given."""
    pond = replace(known.water, units=known.units)
    ph, gh = fact(args, "ph"), value(args, "gh")
    pond = replace(
        pond,
        litres=fact(args, "volume") or pond.litres,
        ph=ph or pond.ph,
        dusk_ph=fact(args, "dusk-ph") or pond.dusk_ph,
        dawn_ph=fact(args, "dawn-ph") or pond.dawn_ph,
        celsius=fact(args, "temperature") or pond.celsius,
        tan=fact(args, "ammonia") or pond.tan,
        calcium=pond.calcium if gh is None else Fact(calcium_mmol_l_from_dgh(gh, MAGNESIUM_SHARE), GIVEN),
    )
    read = typed(args, "kh", _drop(args))
    if read is not None:
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
