"""What every entry of the logbook may carry, and how its figures may be typed and shown."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any, ClassVar, Final

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from dawnline.duration import HOUR_MS, MINUTE_MS, Duration, parse_instant
from dawnline.typed.measure import Measure
from dawnline.typed.measures import ALKALINITY, HARDNESS, LIQUID, MASS, PH, TEMPERATURE, VOLUME

Name = Annotated[str, Field(min_length=1, max_length=80)]
Amount = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
Text = Annotated[str, Field(min_length=1, max_length=2000)]
Photo = Annotated[str, Field(min_length=1, max_length=200)]
Ph = Annotated[float, Field(ge=1, le=13)]
Instant = Annotated[int, BeforeValidator(parse_instant)]


@dataclass(frozen=True, slots=True)
class Typed:
    """How a figure may be typed: `key="6 drops"` for the field it stands at. One of the field's own unit are `per` of
    the measure's base; `step` names the field that takes what one drop stands for.
    """

    key: str
    measure: Measure
    per: Fraction = Fraction(1)
    step: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    """What a field is called where people read it; with a measure, its figure is shown in the units that are set."""

    text: str
    measure: Measure | None = None
    per: float = 1.0
    digits: int = 2


# Fields that several kinds have.
Kh = Annotated[float, Field(ge=0, le=60)]
Gh = Annotated[float, Field(ge=0, le=100)]
SourceKh = Annotated[Kh | None, Typed("source_kh", ALKALINITY), Label("KH of the new water", ALKALINITY)]
SourcePh = Annotated[
    Annotated[float, Field(ge=2, le=12)] | None, Typed("source_ph", PH), Label("pH of the new water", PH)
]
Celsius = Annotated[float, Field(ge=-2, le=45)]
SourceCelsius = Annotated[
    Celsius | None, Typed("source_temperature", TEMPERATURE), Label("new water at", TEMPERATURE, digits=1)
]
Grams = Annotated[Amount | None, Typed("amount", MASS), Label("", MASS)]
Millilitres = Annotated[Amount | None, Typed("amount", LIQUID, per=Fraction(1, 1000)), Label("", VOLUME, per=0.001)]
Kilograms = Annotated[Amount | None, Typed("amount", MASS, per=Fraction(1000)), Label("", MASS, per=1000.0)]
Litres = Annotated[Annotated[float, Field(gt=0, le=1e7)] | None, Typed("amount", VOLUME), Label("", VOLUME)]
GH_TYPED: Final = Typed("gh", HARDNESS, step="gh_step_dgh")
KH_TYPED: Final = Typed("kh", ALKALINITY, step="kh_step_dkh")
What = Annotated[Text, Label("")]


class Entry(BaseModel):
    """What every act may carry."""

    # Most kinds are never met in one run: each is made ready when it is.
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    CHIEF: ClassVar[str] = ""  # the key that a word without one stands for

    note: Annotated[Text | None, Label("")] = None


class Record(Entry):
    """An entry about the pond: it may be about an earlier time, and a photograph may go with it, by its name.

    It can be corrected and withdrawn, exported and imported.
    """

    when: Annotated[Instant | None, Field(ge=0)] = None
    photo: Annotated[Photo | None, Label("photograph")] = None


class AtProbe(Entry):
    """Work at one probe, over a stated time."""

    probe: Annotated[Name, Label("probe")]
    for_: Annotated[Duration, Field(alias="for", gt=0, le=48 * HOUR_MS)] = 30 * MINUTE_MS


def marks(model: type[Entry], kind: type[Any]) -> dict[str, list[Any]]:
    """What is said by one type of mark at each field of a model, by the field's name."""
    return {
        name: [each for each in field.metadata if isinstance(each, kind)] for name, field in model.model_fields.items()
    }
