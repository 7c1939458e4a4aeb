"""What a keeper measures and does at the pond. The first line of each docstring is what `logbook kinds` says.

Units stand in the names: g, kg, L, dKH, degC, mg/L, mm.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from dawnline.duration import HOUR_MS, MINUTE_MS, Duration
from dawnline.logbook.entry import (
    GH_TYPED,
    KH_TYPED,
    Amount,
    Celsius,
    Entry,
    Gh,
    Grams,
    Kh,
    Kilograms,
    Label,
    Litres,
    Millilitres,
    Ph,
    Record,
    SourceCelsius,
    SourceKh,
    SourcePh,
    Text,
    Typed,
    What,
)
from dawnline.logbook.probe_acts import Adjusted, Cleaning
from dawnline.typed.measures import (
    ALKALINITY,
    AMMONIA,
    DEPTH,
    FEED_RATE,
    HARDNESS,
    LENGTH,
    MASS,
    NITRATE,
    NITRITE,
    OXYGEN,
    PERCENT,
    PH,
    SHARE,
    TAN,
    TEMPERATURE,
)


class HandTest(Record):
    """A water test by hand: at least one figure.

    KH and GH in drops are kept as what was read and what a drop stands for. Total ammonia is kept as nitrogen,
    nitrite and nitrate as NO2 and NO3.
    """

    CHIEF: ClassVar[str] = "kh"

    kh_dkh: Annotated[Kh | None, KH_TYPED, Label("KH", ALKALINITY)] = None
    kh_step_dkh: Annotated[float, Field(gt=0, le=5)] | None = None  # what one drop of the kit stands for
    gh_dgh: Annotated[Gh | None, GH_TYPED, Label("GH", HARDNESS)] = None
    gh_step_dgh: Annotated[float, Field(gt=0, le=5)] | None = None
    ph: Annotated[Annotated[float, Field(ge=2, le=12)] | None, Typed("ph", PH), Label("pH", PH)] = None
    temperature_c: Annotated[
        Celsius | None, Typed("temperature", TEMPERATURE), Label("water at", TEMPERATURE, digits=1)
    ] = None
    tan_mg_l: Annotated[
        Amount | None, Typed("ammonia", AMMONIA), Typed("tan", TAN), Label("total ammonia", TAN, digits=3)
    ] = None
    nitrite_mg_l: Annotated[Amount | None, Typed("nitrite", NITRITE), Label("nitrite", NITRITE, digits=3)] = None
    nitrate_mg_l: Annotated[Amount | None, Typed("nitrate", NITRATE), Label("nitrate", NITRATE)] = None
    oxygen_mg_l: Annotated[Amount | None, Typed("oxygen", OXYGEN), Label("oxygen", OXYGEN)] = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.model_fields_set - {"note", "photo", "when", "kh_step_dkh", "gh_step_dgh"}:
            raise ValueError('a hand test needs at least one figure, such as kh_dkh=3, kh="3 drops" or ph=7.4')
        return self


class NewWater(Record):
    """Water that comes in: how much of it, its KH, pH and warmth."""

    litres: Litres = None
    source_kh_dkh: SourceKh = None
    source_ph: SourcePh = None
    source_temperature_c: SourceCelsius = None


class WaterChange(NewWater):
    """A part water change: how much, and the KH and pH of the new water.

    As a share of the pond (0 to 1, or 15%) or as a volume.
    """

    CHIEF: ClassVar[str] = "amount"

    share: Annotated[
        Annotated[float, Field(gt=0, le=1)] | None, Typed("share", SHARE), Typed("amount", SHARE), Label("", SHARE)
    ] = None

    @model_validator(mode="after")
    def _has_an_amount(self) -> Self:
        if (self.share is None) == (self.litres is None):
            raise ValueError(
                'a water change needs either share (0 to 1) or litres, or amount="15%" or amount="300 gal"'
            )
        return self


class TopUp(NewWater):
    """Water that evaporated, filled up again: how much, or by how much the level rose."""

    CHIEF: ClassVar[str] = "amount"

    mm: Annotated[Amount | None, Typed("amount", DEPTH), Label("level raised by", DEPTH)] = None

    @model_validator(mode="after")
    def _has_an_amount(self) -> Self:
        if (self.litres is None) == (self.mm is None):
            raise ValueError('a top-up needs litres or mm of level, such as amount="100 gal" or amount="20 mm"')
        return self


class Rain(Record):
    """Rain fallen in the 24 hours before, or since the rain entry before."""

    CHIEF: ClassVar[str] = "amount"

    # More never fell in a day: 1825 mm at Foc-Foc, January 1966 (WMO's archive of extremes, from memory).
    mm: Annotated[Annotated[float, Field(ge=0, le=1825)], Typed("amount", DEPTH), Label("", DEPTH)]


class Poured(Record):
    """Something put into the water: what, and how much of it by weight or by measure."""

    CHIEF: ClassVar[str] = "what"

    what: What
    grams: Grams = None
    millilitres: Millilitres = None


class Dose(Poured):
    """Buffer or something else put into the water: what, and how much of it."""


class Media(Record):
    """Buffering media placed, swapped or taken out: shell, crushed coral."""

    CHIEF: ClassVar[str] = "what"

    what: What
    kilograms: Kilograms = None
    state: Annotated[Literal["placed", "swapped", "removed"] | None, Label("")] = None


class Salt(Record):
    """Salt put into the water."""

    CHIEF: ClassVar[str] = "amount"

    kilograms: Annotated[Amount, Typed("amount", MASS, per=Fraction(1000)), Label("", MASS, per=1000.0)]


class Dechlorinator(Record):
    """Dechlorinator put into the water."""

    CHIEF: ClassVar[str] = "amount"

    what: Annotated[Text | None, Label("")] = None
    grams: Grams = None
    millilitres: Millilitres = None


class Algaecide(Poured):
    """Something against algae: what, and how much of it."""


class Medication(Poured):
    """A treatment of the fish: what, and how much of it. The answer names the caution that goes with it."""


class Feed(Record):
    """Feed given a day, and its protein; 0 when feeding stops."""

    CHIEF: ClassVar[str] = "amount"

    grams_a_day: Annotated[Amount, Typed("amount", FEED_RATE), Label("", FEED_RATE)]
    protein_percent: Annotated[
        Annotated[float, Field(gt=0, le=100)] | None, Typed("protein", PERCENT), Label("protein", PERCENT)
    ] = None


class Feeding(Record):
    """Feeding stopped, or begun again with as much as before."""

    CHIEF: ClassVar[str] = "state"

    state: Annotated[Literal["stopped", "begun"], Label("")]


class Fish(Record):
    """Fish: how many, how long on average, or what they weigh together."""

    CHIEF: ClassVar[str] = "number"

    number: Annotated[Annotated[int, Field(ge=0, le=1_000_000)] | None, Label("number")] = None
    length_cm: Annotated[
        Annotated[float, Field(gt=0, le=300)] | None, Typed("length", LENGTH), Label("each about", LENGTH)
    ] = None
    kilograms: Kilograms = None
    state: Annotated[Literal["counted", "added", "removed", "died"], Label("")] = "counted"

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if self.number is None and self.length_cm is None and self.kilograms is None:
            raise ValueError(
                'fish need a number, a length or a mass, such as number=11 length="45 cm" or amount="20 kg"'
            )
        return self


class PondCleaning(Record):
    """Filter, drain or pond cleaned: what."""

    CHIEF: ClassVar[str] = "what"

    what: What


class Aeration(Record):
    """Air or pump changed."""

    CHIEF: ClassVar[str] = "state"

    what: Annotated[Literal["air", "pump"] | None, Label("")] = None
    state: Annotated[Literal["on", "off", "more", "less"], Label("")]


class Ice(Record):
    """Ice on the pond: closed all over, part of it open, or none."""

    CHIEF: ClassVar[str] = "state"

    state: Annotated[Literal["closed", "part", "none"], Label("")]


class AeratedCup(Record):
    """A cup of pond water bubbled with air: pH before and after. The answer says whether it is CO2 or the buffer."""

    CHIEF: ClassVar[str] = "after"

    before: Annotated[Ph, Typed("before", PH), Label("before", PH)]
    after: Annotated[Ph, Typed("after", PH), Label("after", PH)]
    for_: Annotated[Duration, Field(alias="for", gt=0, le=48 * HOUR_MS)] = 30 * MINUTE_MS


class Note(Record):
    """A free note."""

    CHIEF: ClassVar[str] = "note"

    note: Annotated[Text, Label("")]


POND_KINDS: dict[str, type[Entry]] = {
    "hand-test": HandTest,
    "water-change": WaterChange,
    "top-up": TopUp,
    "rain": Rain,
    "dose": Dose,
    "media": Media,
    "feed": Feed,
    "feeding": Feeding,
    "fish": Fish,
    "pond-cleaning": PondCleaning,
    "cleaning": Cleaning,  # of a probe
    "adjusted": Adjusted,  # as well
    "aeration": Aeration,
    "ice": Ice,
    "aerated-cup": AeratedCup,
    "salt": Salt,
    "dechlorinator": Dechlorinator,
    "algaecide": Algaecide,
    "medication": Medication,
    "note": Note,
}
