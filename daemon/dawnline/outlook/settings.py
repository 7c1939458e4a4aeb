"""`[pond]` and `[limits]`."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated, Final, Self
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from dawnline.typed.quantity import Units

HOUR: Final = timedelta(hours=1)


class PondSettings(BaseModel):
    """Where the pond lies and how large it is. `volume_litres` [L], `surface_m2` [m2], degrees north and east.

    `source_kh_dkh` is the KH of the water that it is changed with.

    `catchment_m2` [m2] of roof and paving drain into the pond as well; `catchment_runoff` is the share of the rain on
    it that arrives. Roofs give 0.75 to 0.95, asphalt 0.70 to 0.95, concrete 0.80 to 0.95, lawns 0.05 to 0.35 (ASCE
    Manual 77, rational method).

    `units` are those that the logbook shows; any may be typed.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(min_length=1, max_length=80)]
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    timezone: str
    volume_litres: Annotated[float, Field(gt=0)] | None = None
    surface_m2: Annotated[float, Field(gt=0)] | None = None
    catchment_m2: Annotated[float, Field(ge=0, le=1e6)] = 0.0
    catchment_runoff: Annotated[float, Field(ge=0, le=1)] = 0.9
    source_kh_dkh: Annotated[float, Field(ge=0, le=60)] | None = None
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
    def hours_from_the_sun(self) -> float:
        """How far the clock is from the sun's at this longitude [h], in the half of the year in which that is less."""
        noons = (datetime(2026, month, 1, 12, tzinfo=self.zone).utcoffset() or timedelta() for month in (1, 7))
        return min(abs((noon / HOUR - self.longitude / 15 + 12) % 24 - 12) for noon in noons)

    @property
    def rain_depth_mm(self) -> float | None:
        """The water under each square metre that catches rain [mm]: so much rain is as much as the pond holds."""
        if not self.volume_litres or not self.surface_m2:
            return None
        return self.volume_litres / (self.surface_m2 + self.catchment_m2 * self.catchment_runoff)

    @property
    def zone(self) -> ZoneInfo:
        """The pond's time zone."""
        return ZoneInfo(self.timezone)


class LimitSettings(BaseModel):
    """Limits of pH; `swing_wide` in pH units over 24 h. `comfort` is drawn on charts and raises nothing.

    Oxygen [mg/L] for ponds with such a probe: 6 and 4 are common practice, no source. Temperatures [degC] have no usual
    limit: without one nothing is raised.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    comfort: tuple[float, float] = (6.5, 8.5)
    ph_low: Annotated[float, Field(gt=2, lt=12)] = 6.5
    ph_high: Annotated[float, Field(gt=2, lt=12)] = 9.0
    ph_crash: Annotated[float, Field(gt=2, lt=12)] = 6.0
    swing_wide: Annotated[float, Field(gt=0, lt=8)] = 1.0
    oxygen_low: Annotated[float, Field(gt=0, lt=20)] = 6.0
    oxygen_very_low: Annotated[float, Field(gt=0, lt=20)] = 4.0
    temperature_low: Annotated[float, Field(gt=-2, lt=45)] | None = None
    temperature_high: Annotated[float, Field(gt=-2, lt=45)] | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.ph_crash < self.ph_low < self.ph_high:
            raise ValueError("expected ph_crash < ph_low < ph_high")
        if not self.comfort[0] < self.comfort[1]:
            raise ValueError("expected comfort = [lower, upper]")
        if not self.oxygen_very_low < self.oxygen_low:
            raise ValueError("expected oxygen_very_low < oxygen_low")
        low, high = self.temperature_low, self.temperature_high
        if low is not None and high is not None and not low < high:
            raise ValueError("expected temperature_low < temperature_high")
        return self
