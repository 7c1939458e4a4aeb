"""The figures that a plan is made from, as they are typed: for each what it measures and how it may be given."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final, NamedTuple

from dawnline.dosing.pond_water import Fact
from dawnline.errors import InputError, SettingsError
from dawnline.typed import measures as m
from dawnline.typed.measure import Measure
from dawnline.typed.quantity import Typed, parse, plain_number

GIVEN: Final = "given"


class Figure(NamedTuple):
    """One figure: how its value is called, what it measures, and what to say of it."""

    metavar: str
    measure: Measure
    help: str


FIGURES: Final = {
    # what is wanted
    "to": Figure("KH", m.ALKALINITY, "the KH wanted, such as 5dKH or 90ppm"),
    "strength": Figure("PERCENT", m.PERCENT, "of the vinegar (default: 5)"),
    "target": Figure("PH", m.PH, "refused: acid is never added to reach a pH"),
    "share": Figure("SHARE", m.SHARE, "of the pond, such as 15% or 0.15"),
    "source-kh": Figure("KH", m.ALKALINITY, "of the new water"),
    "source-ph": Figure("PH", m.PH, "of the new water"),
    "source-temperature": Figure("T", m.TEMPERATURE, "of the new water"),
    "source-ammonia": Figure("TAN", m.AMMONIA, "of the new water, such as 0.5mg/L N"),
    "kh-then": Figure("KH", m.ALKALINITY, "an earlier test, beside --kh; with --days and --feed"),
    "feed": Figure("FEED", m.FEED_RATE, "between them, such as 130g/day; 0g/day for none"),
    "protein": Figure("PERCENT", m.PERCENT, "of the feed, such as 38%"),
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


class Given(NamedTuple):
    """What was given, as it was typed: texts by the names of `FIGURES` and of what is no figure (`days`, `air` ...).

    Each method gives None where nothing was given under `name`, and raises SettingsError that names it as an option.
    """

    texts: Mapping[str, str]

    def typed(self, name: str, drop: float = 1.0) -> Typed | None:
        """What was understood; `drop` is what one drop of the kit stands for."""
        text = self.texts.get(name)
        try:
            return None if text is None else parse(text, FIGURES[name].measure, drop=drop)
        except InputError as error:
            raise SettingsError(f"--{name}: {error}") from None

    def value(self, name: str) -> float | None:
        """The figure in the base of its measure."""
        found = self.typed(name)
        return None if found is None else found.value

    def fact(self, name: str, convert: Callable[[float], float] = float) -> Fact | None:
        """The same as a fact of the water."""
        found = self.value(name)
        return None if found is None else Fact(convert(found), GIVEN)

    def share(self, name: str) -> float | None:
        """A share as 15% or 0.15; a bare 15 could be either and is refused."""
        text = self.texts.get(name)
        if text is None:
            return None
        try:
            found = plain_number(text)
        except InputError:
            return self.value(name)
        if found > 1.0:
            raise SettingsError(f"--{name}: found {text!r}, expected a share such as {text}% or 0.15")
        return found

    def word(self, name: str, words: Sequence[str]) -> str | None:
        """One of `words`."""
        text = self.texts.get(name)
        if text is not None and text not in words:
            raise SettingsError(f"--{name}: found {text!r}, expected {' or '.join(words)}")
        return text
