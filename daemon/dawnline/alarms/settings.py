"""`[alarms.NAME]`: what the keeper changes of one alarm; what is not given stays as the alarm has it."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from dawnline.duration import DAY_MS, Duration
from dawnline.event import Priority


class AlarmSettings(BaseModel):
    """One alarm. Delays in milliseconds once read; `deadband` in the unit of what the alarm looks at."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    priority: Priority | None = None
    on_delay: Annotated[Duration, Field(le=DAY_MS)] | None = None
    off_delay: Annotated[Duration, Field(le=7 * DAY_MS)] | None = None
    deadband: Annotated[float, Field(ge=0, le=1)] | None = None
