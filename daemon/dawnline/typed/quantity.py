"""A quantity as a person types it: a number with its unit, one of those that a measure has.

>>> from dawnline.typed.measures import ALKALINITY, TEMPERATURE, VOLUME
>>> parse("2,1 meq/l", ALKALINITY).value, parse("6 drops", ALKALINITY).value
(5.888..., 6.0)
>>> parse("300 gal", VOLUME).value, parse("68F", TEMPERATURE).value
(1135.6235352, 20.0)
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import isfinite
from typing import Final, Literal, NamedTuple, TypeAlias, TypeVar

from dawnline.errors import InputError
from dawnline.typed.measure import Measure, spelled
from dawnline.typed.measures import (
    ALKALINITY,
    AMMONIA,
    HARDNESS,
    MEASURES,
    NITRATE,
    NITRITE,
    OXYGEN,
    PH,
    TAN,
    TEMPERATURE,
)
from dawnline.typed.number import number, one_reading, plain

Units: TypeAlias = Literal["metric", "us", "imperial"]
_Found = TypeVar("_Found")
LONGEST: Final = 80  # characters of a quantity
MOST_DROPS: Final = 100
_NUMBER: Final = re.compile(r"\s*([+-]?[0-9.,/ ]*)(.*)", re.DOTALL)
_BOUND: Final = re.compile(r"^\s*(?:<|>|~|≈|±|ca\b|about\b|approx|under\b|over\b|max\b|min\b|up to\b)", re.IGNORECASE)
_RANGE: Final = re.compile(r"^\s*(?:-|to\b|bis\b|\.\.|~|±|\+/-)[^a-z]*[0-9]", re.IGNORECASE)
_PROGRAMS: Final = re.compile(r"-?[0-9]+(?:\.[0-9]+)?e[+-]?[0-9]{1,3}")
_READ_OFF: Final = (ALKALINITY, HARDNESS, PH, TEMPERATURE, AMMONIA, TAN, NITRITE, NITRATE, OXYGEN)
_DROPS: Final = ("drop", "drops", "tropfen", "gouttes")


class Typed(NamedTuple):
    """What was understood: `exact` in the base unit of `measure`, `unit` as we name it; `step` is what one drop of a
    kit stands for, where drops were counted.
    """

    exact: Fraction
    measure: Measure
    unit: str
    step: float | None = None

    @property
    def value(self) -> float:
        """In the base unit of the measure."""
        return float(self.exact)


def parse(text: str, *measures: Measure, drop: float = 1.0, home: Units = "metric") -> Typed:
    """The quantity in `text`, one of `measures`: of several, the one that has its unit.

    `drop` is what one drop of the kit stands for, in the base unit. Where `home` is "imperial", a gallon must say which
    one it is; else it is the US one. Raises InputError with what was found and what to write instead.
    """
    found = plain(text)
    if len(found) > LONGEST:
        raise InputError(f"found {found[:LONGEST]!r}..., expected {_expected(measures)}")
    if measures[0].name == "a pH" and found[:2].lower() == "ph":
        found = found[2:].lstrip(" :=")
    match = _NUMBER.match(found)
    assert match is not None
    digits, written = match[1].strip(), match[2].strip()
    if _BOUND.match(found) or _RANGE.match(written):
        raise InputError(f"found {found!r}, a range or a bound: write the one figure read, {_expected(measures)}")
    if not digits:
        raise InputError(f"found {found!r}, expected {_expected(measures)}")
    one_figure(digits, measures)
    amount = number(digits)
    if spelled(written) in _DROPS:
        return _dropped(found, amount, measures, drop)
    if home == "imperial" and (instead := _first(each.home_only.get(spelled(written)) for each in measures)):
        raise InputError(f"found {found!r}, of which there are two sizes: write {instead.replace('{}', digits)}")
    return _with_unit(found, amount, digits, written, measures)


def one_figure(digits: str, measures: Sequence[Measure]) -> None:
    """Raises InputError for "6/7" where a kit or a meter is read: cups come in quarters, kits do not."""
    if "/" in digits and all(each in _READ_OFF for each in measures):
        found = digits.strip()
        raise InputError(
            f"found {found!r}, two figures or a fraction: write the one figure read, {_expected(measures)}"
        )


def plain_number(text: str) -> float:
    """A number that has its unit elsewhere, such as in the name of its key; also as programs write it (1e-05).

    Raises InputError.
    """
    if _PROGRAMS.fullmatch(text.strip()) and isfinite(float(text)):
        return float(text)
    return float(number(text))


def show(value: float, measure: Measure, unit: str, digits: int) -> str:
    """A figure in the base unit of `measure`, in another of its units, for people.

    >>> from dawnline.typed.measures import VOLUME
    >>> show(1135.6235352, VOLUME, "gal", 0)
    '300 gal'
    """
    amount = float(measure.named(unit).from_base(Fraction(value)))
    text = f"{amount:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{'0' if text == '-0' else text}{'' if unit == '%' else ' '}{unit}"


def _with_unit(found: str, amount: Fraction, digits: str, written: str, measures: Sequence[Measure]) -> Typed:
    bare = _first(each for each in measures if each.bare)
    if not written and bare is not None:
        return Typed(bare.units[0].to_base(amount), bare, bare.base)
    fits = [(each, unit) for each in measures if written and (unit := each.unit(written))]
    instead = _first(each.ambiguous.get(spelled(written)) for each in measures)
    if instead is not None and (not fits or len(measures) > 1):
        lacks = "" if written else " without a unit"
        raise InputError(f"found {found!r}{lacks}: write {instead.replace('{}', digits)}")
    if fits:
        measure, unit = fits[0]
        if measure.thousands:
            one_reading(digits, ".")
        return Typed(unit.to_base(amount), measure, unit.name)
    raise InputError(f"found {found!r}, {_stranger(written, measures)}: write {_expected(measures)}")


def _dropped(found: str, drops: Fraction, measures: Sequence[Measure], drop: float) -> Typed:
    measure = _first(each for each in measures if each.dropwise)
    if measure is None:
        raise InputError(f"found {found!r}: {measures[0].name} is not counted in drops: write {_expected(measures)}")
    if drops.denominator != 1 or not 0 <= drops <= MOST_DROPS:
        raise InputError(f"found {found!r}: drops are counted whole, 0 to {MOST_DROPS}: write {_expected(measures)}")
    return Typed(drops * Fraction(drop), measure, "drops", drop)


def _stranger(written: str, measures: Sequence[Measure]) -> str:
    """What is wrong with a unit that none of the measures has."""
    if not written:
        return "without a unit"
    near = _first(each.nearest(written) for each in measures)
    other = _first(each.name for each in MEASURES if each not in measures and each.unit(written))
    if other is not None and near is None:
        return f"which is {other}"
    return f"an unknown unit {written[:20]!r}" + (f", did you mean {near!r}?" if near else "")


def _first(found: Iterable[_Found | None]) -> _Found | None:
    return next((each for each in found if each is not None), None)


def _expected(measures: Sequence[Measure]) -> str:
    names = " or ".join(each.name for each in measures)
    return f"{names} such as {'; '.join(each.example for each in measures)}"
