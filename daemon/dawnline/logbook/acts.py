"""Every kind of act: what it must and may say. To add a kind, add a model here.

Units stand in the names: g, kg, l, dKH, degC, mg/L, mm.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from dawnline.duration import HOUR_MS, MINUTE_MS, Duration
from dawnline.errors import InputError

FOUND_SHOWN: Final = 60  # characters of a wrong value in a message
Name = Annotated[str, Field(min_length=1, max_length=80)]
Amount = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
Text = Annotated[str, Field(min_length=1, max_length=2000)]
Episode = Annotated[int, Field(ge=1, lt=2**53)]
Ph = Annotated[float, Field(ge=1, le=13)]
Triple = tuple[Ph, Annotated[float, Field(ge=-2000, le=2000)], Annotated[float, Field(ge=-2, le=60)]]


def _triples(found: Any) -> Any:
    """Points as a keeper writes them in one word; a list stays as it is."""
    if not isinstance(found, str):
        return found
    points = [part.split(":") for part in found.replace(",", " ").split()]
    if not points or any(len(point) != 3 for point in points):
        raise ValueError('expected the pH of the buffer, what was measured and degC, such as "7.02:-1.3:20.5"')
    return points


class Entry(BaseModel):
    """What every act may carry."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    note: Text | None = None


class HandTest(Entry):
    """A water test by hand: at least one figure."""

    kh_dkh: Annotated[float, Field(ge=0, le=60)] | None = None
    kh_step_dkh: Annotated[float, Field(gt=0, le=5)] | None = None  # what one drop of the kit stands for
    gh_dgh: Annotated[float, Field(ge=0, le=100)] | None = None
    ph: Annotated[float, Field(ge=2, le=12)] | None = None
    temperature_c: Annotated[float, Field(ge=-2, le=45)] | None = None
    tan_mg_l: Amount | None = None
    nitrite_mg_l: Amount | None = None
    nitrate_mg_l: Amount | None = None
    oxygen_mg_l: Amount | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.model_fields_set - {"note", "kh_step_dkh"}:
            raise ValueError("a hand test needs at least one figure, such as kh_dkh=3 or ph=7.4")
        return self


class WaterChange(Entry):
    """A part water change, as a share of the pond (0 to 1) or in litres."""

    share: Annotated[float, Field(gt=0, le=1)] | None = None
    litres: Annotated[float, Field(gt=0, le=1e7)] | None = None
    source_kh_dkh: Annotated[float, Field(ge=0, le=60)] | None = None
    source_ph: Annotated[float, Field(ge=2, le=12)] | None = None

    @model_validator(mode="after")
    def _has_an_amount(self) -> Self:
        if (self.share is None) == (self.litres is None):
            raise ValueError("a water change needs either share (0 to 1) or litres")
        return self


class Dose(Entry):
    """Something put into the water: what, and how much of it."""

    what: Text
    grams: Amount | None = None
    millilitres: Amount | None = None


class Media(Entry):
    """Buffering media placed or swapped: shell, crushed coral."""

    what: Text
    kilograms: Amount | None = None


class Feed(Entry):
    """Feed given a day; 0 when feeding stops."""

    grams_a_day: Amount
    protein_percent: Annotated[float, Field(gt=0, le=100)] | None = None


class Aeration(Entry):
    """Air or pump changed."""

    state: Literal["on", "off", "more", "less"]


class Rain(Entry):
    """Rain fallen, in mm."""

    mm: Amount


class Note(Entry):
    """A free note."""

    note: Text


class AtProbe(Entry):
    """Work at one probe, over a stated time."""

    probe: Name
    for_: Annotated[Duration, Field(alias="for", gt=0, le=48 * HOUR_MS)] = 30 * MINUTE_MS


class OutOfService(AtProbe):
    """A probe taken out of service; it comes back by itself when the time is over."""

    for_: Annotated[Duration, Field(alias="for", gt=0, le=48 * HOUR_MS)]


class Cleaning(AtProbe):
    """A probe cleaned; where they were read, pH just before and after, by the probe and by an independent meter."""

    before: Ph | None = None
    after: Ph | None = None
    meter_before: Ph | None = None
    meter_after: Ph | None = None

    @model_validator(mode="after")
    def _in_pairs(self) -> Self:
        if (self.before is None) != (self.after is None) or (self.meter_before is None) != (self.meter_after is None):
            raise ValueError("readings around a cleaning come in pairs: before and after, meter_before and meter_after")
        if self.meter_before is not None and self.before is None:
            raise ValueError("the meter's readings say something only beside the probe's: before and after")
        return self


class Calibration(AtProbe):
    """Work at a probe that is to be calibrated begins; with `outcome`, `calibrated` or `buffer-check` will follow."""

    outcome: bool = False


class Calibrated(Entry):
    """What a probe measured in one to three buffers: triples of the buffer's pH, what was measured, and degC.

    In words: "7.02:-1.3:20.5, 10.06:-171:20.5". What was measured is in the probe's own unit. `settled_s` is how long
    the slowest took to be steady.
    """

    probe: Name
    points: Annotated[tuple[Triple, ...], BeforeValidator(_triples), Field(min_length=1, max_length=3)]
    settled_s: Annotated[float, Field(ge=0, le=86_400)] | None = None


class BufferCheck(Entry):
    """A quick check in one buffer, nothing adjusted; `measured` in the probe's own unit (mV or pH)."""

    probe: Name
    buffer_ph: Ph
    measured: Annotated[float, Field(ge=-2000, le=2000)]
    temperature_c: Annotated[float, Field(ge=-2, le=60)] = 25.0
    settled_s: Annotated[float, Field(ge=0, le=86_400)] | None = None


class ReturnProbe(Entry):
    """A probe is back."""

    probe: Name


class Acknowledge(Entry):
    """Somebody has an alarm."""

    id: Episode


class Shelve(Entry):
    """An alarm hidden for a stated time, a week at most, one of high priority a day; the journal keeps `why`."""

    id: Episode
    for_: Annotated[Duration, Field(alias="for", gt=0, le=168 * HOUR_MS)]
    why: Annotated[str, Field(min_length=1, max_length=200)] | None = None


class Unshelve(Entry):
    """A shelved alarm shown again."""

    id: Episode


KINDS: Final[dict[str, type[Entry]]] = {
    "hand-test": HandTest,
    "water-change": WaterChange,
    "dose": Dose,
    "media": Media,
    "feed": Feed,
    "aeration": Aeration,
    "rain": Rain,
    "note": Note,
    "cleaning": Cleaning,
    "calibration": Calibration,
    "calibrated": Calibrated,
    "buffer-check": BufferCheck,
    "out-of-service": OutOfService,
    "return": ReturnProbe,
    "acknowledge": Acknowledge,
    "shelve": Shelve,
    "unshelve": Unshelve,
}

IN_BUFFERS: Final = ("calibrated", "buffer-check")  # what a probe's calibration follows from
CARE: Final = (*IN_BUFFERS, "cleaning")  # and what a record is corrected by

# Alarms a known act at the water sets off by itself, and for how long it explains them. Common practice, no source.
EXPLAINED: Final[dict[str, tuple[tuple[str, ...], int]]] = {
    "water-change": (("sudden-drop", "night-slide", "wide-swing", "probe-suspect"), 2 * HOUR_MS),
    "dose": (("sudden-drop", "night-slide", "wide-swing", "probe-suspect"), 2 * HOUR_MS),
}


def read(kind: str, body: Mapping[str, Any]) -> Entry:
    """The act, checked. Raises InputError that names the kind or the key, what was found and what is expected."""
    model = KINDS.get(kind)
    if model is None:
        raise InputError(f"unknown act {_short(kind)}; {_nearest(kind, KINDS)}")
    try:
        return model.model_validate(dict(body))
    except ValidationError as error:
        raise InputError("; ".join(_say(kind, model, line) for line in error.errors())) from None


def _say(kind: str, model: type[Entry], line: Any) -> str:
    key = ".".join(str(part) for part in line["loc"])
    if line["type"] == "extra_forbidden":
        return f"{kind}: unknown key {_short(key)}; {_nearest(key, _keys(model))}"
    if line["type"] == "missing":
        return f"{kind}: {key!r} is missing"
    message = line["msg"].removeprefix("Value error, ")
    return f"{kind}: {key + ': ' if key else ''}{message}" + (f", found {_short(line['input'])}" if key else "")


def _short(found: object) -> str:
    """What was found, short enough for a message."""
    text = repr(found)
    return text if len(text) <= FOUND_SHOWN else text[:FOUND_SHOWN] + "..."


def _keys(model: type[Entry]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _nearest(word: str, known: Any) -> str:
    near = difflib.get_close_matches(word, list(known), 1)
    return f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known)}"
