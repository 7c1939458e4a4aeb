"""`[[probes]]`: what is measured, and the link it arrives by."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from dawnline.duration import Duration

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_-]{0,31}$")]


class ProbeSettings(BaseModel):
    """One probe. `interval` is how often it should speak (milliseconds); learned where it is not given."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Name
    quantity: Literal["ph", "electrode_mv", "temperature", "dissolved_oxygen", "rain"]
    link: Literal["serial", "mqtt"]
    interval: Duration | None = None
    temperature: Name | None = None  # the temperature probe that compensates this one
    span: tuple[float, float] | None = None  # what this instrument can measure, in the quantity's unit
    # serial: probes that name the same port share it
    port: str | None = None
    baud: Annotated[int, Field(ge=300, le=4_000_000)] = 9600
    # serial and mqtt: the name of the value in `name=value` pairs or in a JSON object (dots go deeper)
    key: str | None = None
    time_key: str | None = None
    # mqtt
    topic: str | None = None

    @model_validator(mode="after")
    def _link_has_what_it_needs(self) -> Self:
        if self.link == "serial" and not self.port:
            raise ValueError('a serial probe needs `port`, such as "/dev/serial/by-id/..."')
        if self.link == "mqtt" and not self.topic:
            raise ValueError('an mqtt probe needs `topic`, such as "pond/water/ph"')
        if self.topic and any(c in self.topic for c in "+#\0"):
            raise ValueError("`topic` names one topic: no wildcards")
        return self
