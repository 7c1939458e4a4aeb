"""`[logbook]`: what the keeper's own kits and words mean."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class LogbookSettings(BaseModel):
    """What one drop of a test kit stands for [dKH, dGH]; one degree a drop is common practice, no source."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    kh_drop_dkh: Annotated[float, Field(gt=0, le=5)] = 1.0
    gh_drop_dgh: Annotated[float, Field(gt=0, le=5)] = 1.0
