"""Corrections and withdrawals: an entry is never overwritten; the last word on it stands."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, ValidationError, model_validator

from dawnline.logbook.entry import Entry, Instant, Record
from dawnline.logbook.pond_acts import POND_KINDS
from dawnline.typed.say import fault

EntryId = Annotated[str, Field(min_length=1, max_length=200)]


class Correct(Entry):
    """An entry as it should have been, the whole of it; `entry` is the act it corrects, `at` when that came."""

    entry: EntryId
    kind: Annotated[str, Field(max_length=80)]
    at: Annotated[Instant, Field(ge=0)]
    body: dict[str, Any]

    @model_validator(mode="after")
    def _reads(self) -> Self:
        self.corrected  # noqa: B018 - refused here, where the act is read
        return self

    @property
    def corrected(self) -> Record:
        """The entry as it should have been. Raises ValueError."""
        model = POND_KINDS.get(self.kind)
        if model is None:
            raise ValueError(f"an entry of kind {self.kind!r} cannot be corrected, only: {', '.join(POND_KINDS)}")
        try:
            found = model.model_validate(self.body)
        except ValidationError as error:
            raise ValueError("; ".join(fault(self.kind, model, line) for line in error.errors())) from None
        assert isinstance(found, Record)
        return found


class Withdraw(Entry):
    """An entry that should not be there; it stays in the history. `at` is when the act came."""

    entry: EntryId
    at: Annotated[Instant, Field(ge=0)]
