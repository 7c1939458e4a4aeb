"""`[[buffers]]` and `[calibration]`."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from dawnline.duration import DAY_MS, Duration
from dawnline.electrode.buffers import Buffer

Degrees = Annotated[float, Field(ge=-5, le=60, allow_inf_nan=False)]
PhValue = Annotated[float, Field(ge=1, le=13, allow_inf_nan=False)]


def _one_of_a_list(name: str) -> str:
    if "," in name or name != name.strip():
        raise ValueError(
            'expected a name without a comma, as between those of a list, or a space around it, such as "9.21"'
        )
    return name


class BufferSettings(BaseModel):
    """A buffer solution of the keeper's own: `values` as its bottle gives them, pairs of degC and pH."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(min_length=1, max_length=40), AfterValidator(_one_of_a_list)]
    values: Annotated[tuple[tuple[Degrees, PhValue], ...], Field(max_length=60)]

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if len(self.values) < 2 or any(b[0] <= a[0] for a, b in pairwise(self.values)):
            raise ValueError(
                "expected two pairs [degC, pH] at least, rising in temperature, such as [[20, 7.02], [25, 7.00]]"
            )
        return self

    @property
    def buffer(self) -> Buffer:
        """As the electrode room has it."""
        return Buffer(self.name, self.values)


class CalibrationSettings(BaseModel):
    """When a calibration is due.

    `due_after` [ms once read]: how old it may become; None: 30 days (common practice, no source) for a probe that
    has been calibrated or that delivers millivolts. `hand_test_step` [pH]: the step of the keeper's pH test by hand.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    due_after: Annotated[Duration, Field(ge=DAY_MS, le=3 * 365 * DAY_MS)] | None = None
    hand_test_step: Annotated[float, Field(gt=0, le=2)] = 0.5
