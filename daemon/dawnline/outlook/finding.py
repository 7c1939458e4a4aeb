"""A finding: a fact with its evidence. It has no opinion about telling people."""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

from dawnline.event import Priority


class Condition(IntEnum):
    """How a value stands to an alarm's limit."""

    CLEAR = 0  # on the safe side, past the deadband
    BETWEEN = 1  # inside the deadband: neither begins nor ends anything
    MET = 2
    UNKNOWN = 3  # not evaluated


class Finding(NamedTuple):
    """`alarm` names the alarm that this fact concerns; `probe` is None for the pond as a whole.

    `priority` is None where the alarm's own holds. `since` is when the condition began where that is known better
    than "now". `observed_at` is the newest observation behind the fact, None where it is the lack of one: an alarm
    is never raised on a single observation, however long it is held.
    """

    alarm: str
    probe: str | None
    at: int
    condition: Condition
    value: float | None = None
    evidence: str = ""
    priority: Priority | None = None
    since: int | None = None
    observed_at: int | None = None
