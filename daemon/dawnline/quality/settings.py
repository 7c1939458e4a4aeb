"""`[probes.quality]`: the thresholds of the checks on one probe, each in the unit of its quantity.

Every key is optional; what is left out is as usual for the quantity in a garden pond (`USUAL`). The names are those of
the QARTOD manuals where they have one.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal, Self, TypeAlias, TypeVar

from pydantic import BaseModel, ConfigDict, Field, model_validator

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, Duration

Positive = Annotated[float, Field(gt=0)]
Longer = Annotated[Duration, Field(ge=MINUTE_MS)]
Pair = tuple[float, float]
Speech: TypeAlias = Literal["amount", "accumulation"]  # what a rain gauge sends, see fallen.py
CHECKS: Final = ("usual", "spike", "rate", "flat", "attenuated", "climatology", "gap")
_MONTHS: Final = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
Model = TypeVar("Model", bound=BaseModel)


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class SpikeSettings(_Section):
    """`threshold`: how far a value may lie from its neighbours; it grows by `per_minute` with the time between them."""

    threshold: Positive = 0.3
    per_minute: Annotated[float, Field(ge=0)] = 0.03


class RateSettings(_Section):
    """`per_minute`: the fastest change that water makes; `fail_per_minute`: one that nothing makes.

    `least`: what may change at once, noise.
    """

    per_minute: Positive = 1.0
    fail_per_minute: Positive | None = None
    least: Annotated[float, Field(ge=0)] = 0.2


class FlatSettings(_Section):
    """`tolerance`: a value that moves by less is at rest. `floor` and `cap` bound the rest allowed, which is learned.

    From `fail` on the value is not believed at all.
    """

    tolerance: Annotated[float, Field(ge=0)] = 0.005
    floor: Longer = 3 * HOUR_MS
    cap: Longer = 20 * HOUR_MS
    fail: Longer = 2 * DAY_MS


class AttenuatedSettings(_Section):
    """Highest less lowest of a `period`: below `least` suspect, below `fail` not believed."""

    period: Longer = DAY_MS
    least: Annotated[float, Field(ge=0)] = 0.015
    fail: Annotated[float, Field(ge=0)] = 0.0


class ClimatologySettings(_Section):
    """`margin`: how far outside what was learned a value may lie. A month's own span replaces what is learned."""

    margin: Annotated[float, Field(ge=0)] = 0.5
    january: Pair | None = None
    february: Pair | None = None
    march: Pair | None = None
    april: Pair | None = None
    may: Pair | None = None
    june: Pair | None = None
    july: Pair | None = None
    august: Pair | None = None
    september: Pair | None = None
    october: Pair | None = None
    november: Pair | None = None
    december: Pair | None = None

    @model_validator(mode="after")
    def _lower_first(self) -> Self:
        for month in _MONTHS:
            span = getattr(self, month)
            if span is not None and not span[0] < span[1]:
                raise ValueError(f"expected {month} = [lower, upper]")
        return self

    @property
    def spans(self) -> dict[int, Pair]:
        """The spans given, by month, 1 to 12."""
        return {number: getattr(self, m) for number, m in enumerate(_MONTHS, 1) if getattr(self, m) is not None}


class GapSettings(_Section):
    """`after`: a silence longer than this is a gap; left out: three intervals, at least 5 min."""

    after: Longer | None = None


class QualitySettings(_Section):
    """The checks on one probe. `usual`: where the values of a pond live. `off`: checks that are not wanted."""

    off: tuple[Literal["usual", "spike", "rate", "flat", "attenuated", "climatology", "gap"], ...] = ()
    usual: Pair | None = None
    spike: SpikeSettings = SpikeSettings()
    rate: RateSettings = RateSettings()
    flat: FlatSettings = FlatSettings()
    attenuated: AttenuatedSettings = AttenuatedSettings()
    climatology: ClimatologySettings = ClimatologySettings()
    gap: GapSettings = GapSettings()

    @model_validator(mode="after")
    def _usual_lower_first(self) -> Self:
        if self.usual is not None and not self.usual[0] < self.usual[1]:
            raise ValueError("expected usual = [lower, upper]")
        return self


# What is usual for a quantity in a garden pond. Common practice, no source. The millivolts are those of pH, at 59 mV a
# unit. Water under ice rests for days and keeps its temperature within a sensor's step: it is never attenuated.
USUAL: Final[dict[str, QualitySettings]] = {
    "ph": QualitySettings(),
    "electrode_mv": QualitySettings(
        spike=SpikeSettings(threshold=18.0, per_minute=1.8),
        rate=RateSettings(per_minute=60.0, least=12.0),
        flat=FlatSettings(tolerance=0.05),
        attenuated=AttenuatedSettings(least=0.9),
        climatology=ClimatologySettings(margin=30.0),
    ),
    "temperature": QualitySettings(
        off=("attenuated",),
        spike=SpikeSettings(threshold=1.5, per_minute=0.2),
        rate=RateSettings(per_minute=3.0, least=1.0),
        flat=FlatSettings.model_validate({"floor": "12h", "cap": "7d", "fail": "14d"}),
        climatology=ClimatologySettings(margin=4.0),
    ),
    "dissolved_oxygen": QualitySettings(
        spike=SpikeSettings(threshold=1.5, per_minute=0.15),
        rate=RateSettings(per_minute=5.0, least=1.0),
        flat=FlatSettings.model_validate({"cap": "24h"}),
        attenuated=AttenuatedSettings(least=0.03),
        climatology=ClimatologySettings(margin=2.0),
    ),
    # Dry weeks are flat, and a cloudburst is a spike.
    "rain": QualitySettings(off=("spike", "rate", "flat", "attenuated", "climatology")),
}


def settled(quantity: str, given: QualitySettings | None = None) -> QualitySettings:
    """What holds for a probe: what its keeper has `given`, and for the rest what is usual for its quantity.

    >>> settled("temperature", QualitySettings(spike=SpikeSettings(threshold=2.0))).spike
    SpikeSettings(threshold=2.0, per_minute=0.2)
    """
    usual = USUAL[quantity]
    if given is None:
        return usual
    sections = {name: _laid_over(getattr(usual, name), getattr(given, name)) for name in CHECKS if name != "usual"}
    return usual.model_copy(update={**sections, "off": (*usual.off, *given.off), "usual": given.usual})


def _laid_over(usual: Model, given: Model) -> Model:
    return usual.model_copy(update={name: getattr(given, name) for name in given.model_fields_set})
