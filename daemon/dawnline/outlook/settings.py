"""`[pond]` and `[limits]`."""

from __future__ import annotations

from typing import Annotated, Self
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from dawnline.typed.quantity import Units


class PondSettings(BaseModel):
    """Where the pond lies and how large it is. `volume_litres` [L], `surface_m2` [m2], degrees north and east.

    `units` are those that the logbook shows; any may be typed.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(min_length=1, max_length=80)]
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    timezone: str
    volume_litres: Annotated[float, Field(gt=0)] | None = None
    surface_m2: Annotated[float, Field(gt=0)] | None = None
    units: Units = "metric"

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        try:
            ZoneInfo(value)
        except (KeyError, ValueError, OSError):
            raise ValueError('expected a zone of the IANA time zone database, such as "Europe/Berlin"') from None
        return value

    @property
    def zone(self) -> ZoneInfo:
        """The pond's time zone."""
        return ZoneInfo(self.timezone)


class LimitSettings(BaseModel):
    """pH limits; `swing_wide` in pH units over 24 h. `comfort` is drawn on charts and raises nothing."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    comfort: tuple[float, float] = (6.5, 8.5)
    ph_low: Annotated[float, Field(gt=2, lt=12)] = 6.5
    ph_high: Annotated[float, Field(gt=2, lt=12)] = 9.0
    ph_crash: Annotated[float, Field(gt=2, lt=12)] = 6.0
    swing_wide: Annotated[float, Field(gt=0, lt=8)] = 1.0

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.ph_crash < self.ph_low < self.ph_high:
            raise ValueError("expected ph_crash < ph_low < ph_high")
        if not self.comfort[0] < self.comfort[1]:
            raise ValueError("expected comfort = [lower, upper]")
        return self
