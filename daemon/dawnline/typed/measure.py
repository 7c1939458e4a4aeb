"""What a quantity is counted in: its units in all the spellings people use, and how one becomes the other.

A unit that could mean two things is listed too, with what to write instead: it is refused, never guessed.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from dawnline.typed.number import plain

_PER: Final = re.compile(r"\s(?:per|a|pro)\s")
_AS: Final = re.compile(r"\b(?:as|of)\b")
_LITRE: Final = re.compile(r"/(?:litres?|liters?|ltr)\b")
_DROPPED: Final = re.compile(r"[\s.°º˚_+\-]|\((?=[a-z])|\)$")


def spelled(unit: str) -> str:
    """One form for all the ways to write a unit.

    >>> spelled("mg per litre as CaCO3"), spelled("US gal."), spelled("NO3-N"), spelled("°C")
    ('mg/lcaco3', 'usgal', 'no3n', 'c')
    """
    text = plain(unit).lower().replace("℃", "c").replace("℉", "f").replace("″", '"').replace("\u201d", '"')
    for sign, written in (("³", "3"), ("₃", "3"), ("₂", "2"), ("₄", "4"), ("⁺", ""), ("⁻", ""), ("·", "")):
        text = text.replace(sign, written)
    text = _AS.sub(" ", _PER.sub("/", f" {text} ")).replace(" /", "/").replace("/ ", "/").strip()
    return _DROPPED.sub("", _LITRE.sub("/l", text))


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: `factor` of the base unit are one of it, counted from `zero` of its own.

    `spellings` are taken in any case, with or without spaces, points and degree signs.
    """

    name: str
    factor: Fraction
    spellings: tuple[str, ...] = ()
    zero: Fraction = Fraction(0)

    def to_base(self, amount: Fraction) -> Fraction:
        """So many of this unit, in the base unit."""
        return (amount - self.zero) * self.factor

    def from_base(self, amount: Fraction) -> Fraction:
        """So many of the base unit, in this one."""
        return amount / self.factor + self.zero


@dataclass(frozen=True)
class Measure:
    """One quantity. `examples` are what to write; `base` names the unit its figures are kept in.

    `bare` says that a number needs no unit; `ambiguous` maps a spelling to what to write instead, `{}` standing for
    the number; `home_only` are spellings of another size in imperial measure. Where `thousands` are common, a point
    before three digits may part them, and is asked about.
    """

    name: str
    base: str
    units: tuple[Unit, ...]
    examples: tuple[str, ...]
    bare: bool = False
    ambiguous: Mapping[str, str] = field(default_factory=dict)
    home_only: Mapping[str, str] = field(default_factory=dict)
    dropwise: bool = False  # a kit counts it in drops
    thousands: bool = False
    _spelled: dict[str, Unit] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay out the spellings."""
        found = {spelled(word): unit for unit in self.units for word in (unit.name, *unit.spellings)}
        object.__setattr__(self, "_spelled", found)

    @property
    def example(self) -> str:
        """What to write, in words."""
        *most, last = self.examples
        return f"{', '.join(most)} or {last}" if most else last

    def unit(self, written: str) -> Unit | None:
        """The unit so spelled; None for one that this quantity has not."""
        return self._spelled.get(spelled(written))

    def named(self, name: str) -> Unit:
        """The unit of this name. Raises KeyError."""
        return next(unit for unit in self.units if unit.name == name)

    def nearest(self, written: str) -> str | None:
        """The name of the unit most like what was written."""
        near = difflib.get_close_matches(spelled(written), list(self._spelled), 1, 0.7)
        return self._spelled[near[0]].name if near else None


def unit(name: str, factor: str | int | Fraction, *spellings: str, zero: int = 0) -> Unit:
    """A line of the tables."""
    return Unit(name, Fraction(factor), spellings, Fraction(zero))


def per_day(mass: Iterable[Unit]) -> tuple[Unit, ...]:
    """Units of mass as a daily rate."""
    return tuple(
        Unit(
            f"{each.name}/day", each.factor, tuple(f"{w}/{day}" for w in (each.name, *each.spellings) for day in _DAYS)
        )
        for each in mass
    )


_DAYS: Final = ("day", "d", "tag", "jour")
