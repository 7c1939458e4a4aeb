"""A plan as it is asked for, at a terminal or at the page: what was typed, over what is known of the pond."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

from dawnline.account.account import Account
from dawnline.dosing.figures import GIVEN, Given
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
from dawnline.typed.quantity import plain_number
from dawnline.water.doses import VINEGAR_G_L
from dawnline.water.units import calcium_mmol_l_from_dgh, meq_l_from_dkh

AIR: Final = ("on", "off")
PARTS_OF_DAY: Final = ("morning", "day", "dusk", "night")
MOST_DAYS: Final = 365
NO_ACCOUNT: Final = Account(0, why_not="there is no store to look back on")


class Known(NamedTuple):
    """The pond's water as recorded, in the units it is shown in; its limits; the part of the day by the sun; days since
    acid was last logged; the buffer's account.
    """

    water: PondWater
    limits: LimitSettings = LimitSettings()
    part_of_day: str | None = None
    days_since_acid: float | None = None
    account: Account = NO_ACCOUNT


def plan_asked(what: str, given: Given, known: Known) -> Plan:
    """The plan `what`: raise-kh, lower-ph, water-change or shell.

    Raises SettingsError that names the option where something is missing or no figure, and for one that no pond has.
    """
    try:
        pond = _water(given, known)
        return replace(_plan(what, given, pond, known), values=pond.values())
    except ValueError as error:  # outside what the chemistry holds for
        raise SettingsError(f"dose {what}: {error}") from None


def _plan(what: str, given: Given, pond: PondWater, known: Known) -> Plan:
    if what == "raise-kh":
        return _raise(given, pond)
    if what == "lower-ph":
        return _lower(given, pond, known)
    if what == "shell":
        return _shell(given, pond, known)
    return _change(given, pond)


def _raise(given: Given, pond: PondWater) -> Plan:
    to = given.value("to")
    if to is None:
        raise SettingsError("raise-kh: give --to, such as 5dKH")
    return raise_kh(pond, to, given.texts.get("with", "sodium bicarbonate"), _whole_days(given.texts.get("days")))


def _lower(given: Given, pond: PondWater, known: Known) -> Plan:
    air = given.word("air", AIR)
    conditions = Conditions(
        given.word("part-of-day", PARTS_OF_DAY) or known.part_of_day,
        None if air is None else air == "on",
        known.days_since_acid,
        given.value("target"),
    )
    litres, percent = given.value("amount"), given.value("strength")
    return lower_ph(
        pond,
        conditions,
        substance=given.texts.get("with"),
        millilitres=None if litres is None else 1000.0 * litres,
        grams_a_litre=VINEGAR_G_L if percent is None else 10.0 * percent,
    )


def _shell(given: Given, pond: PondWater, known: Known) -> Plan:
    if "kh-then" not in given.texts:
        return shell(pond, known.account)
    missing = [name for name in ("kh", "days", "feed") if name not in given.texts]
    if missing:
        raise SettingsError(f"shell: beside --kh-then give {', '.join(f'--{name}' for name in missing)}")
    then, now = given.typed("kh-then", _drop(given)), given.typed("kh", _drop(given))
    feed = given.value("feed")
    assert then is not None
    assert now is not None
    assert feed is not None
    bounds = [kit_bounds(each.value, each.step or finest_step([then.value, now.value])) for each in (then, now)]
    return between_two_tests(
        pond, Between(bounds[0], bounds[1], _days(given.texts["days"]), feed, given.value("protein"))
    )


def _change(given: Given, pond: PondWater) -> Plan:
    if ("share" in given.texts) == ("amount" in given.texts):
        raise SettingsError("water-change: give either --share, such as 15%, or --amount, such as 2000L")
    part = given.share("share")
    if part is None:
        litres = given.value("amount") or 0.0
        part = 0.0 if pond.litres is None else litres / pond.litres.value
    source = Source(
        kh=given.fact("source-kh", meq_l_from_dkh),
        ph=given.fact("source-ph"),
        celsius=given.fact("source-temperature"),
        tan=given.fact("source-ammonia"),
    )
    return water_change(pond, part, source)


def _water(given: Given, known: Known) -> PondWater:
    """What the record says, and over it what was given."""
    pond, ph, gh = known.water, given.fact("ph"), given.value("gh")
    pond = replace(
        pond,
        litres=given.fact("volume") or pond.litres,
        ph=ph or pond.ph,
        dusk_ph=given.fact("dusk-ph") or pond.dusk_ph,
        dawn_ph=given.fact("dawn-ph") or pond.dawn_ph,
        celsius=given.fact("temperature") or pond.celsius,
        tan=given.fact("ammonia") or pond.tan,
        calcium=pond.calcium if gh is None else Fact(calcium_mmol_l_from_dgh(gh, MAGNESIUM_SHARE), GIVEN),
    )
    read = given.typed("kh", _drop(given))
    if read is not None:
        kh, low = kh_fact(read.value, read.step, GIVEN)
        pond = replace(pond, kh=kh, kh_low=low)
    if "crashed" in given.texts:
        return replace(pond, crashed="you say so")
    if ph is not None and ph.value < known.limits.ph_low and not pond.crashed:
        return replace(pond, crashed=f"its pH is {ph.value:.2f}, below {known.limits.ph_low:g}")
    return pond


def _drop(given: Given) -> float:
    found = given.value("drop")
    return 1.0 if found is None else found


def _whole_days(text: str | None) -> int | None:
    if text is None:
        return None
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= MOST_DAYS:
        raise SettingsError(f"--days: found {text!r}, expected a number of days from 1 to {MOST_DAYS}")
    return int(text)


def _days(text: str) -> float:
    try:
        return plain_number(text)
    except InputError:
        raise SettingsError(f"--days: found {text!r}, expected the days between the two tests, such as 14") from None
