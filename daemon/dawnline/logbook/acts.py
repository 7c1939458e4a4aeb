"""Every kind of act, and reading one. To add a kind, add a model to pond_acts.py or probe_acts.py.

What people type (units, other words for a kind) is settled in settle.py before it comes here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from pydantic import ValidationError

from dawnline.duration import HOUR_MS
from dawnline.errors import InputError
from dawnline.event import Act
from dawnline.logbook.amendments import Correct, Withdraw
from dawnline.logbook.entry import AtProbe, Entry, Record
from dawnline.logbook.pond_acts import (
    POND_KINDS,
    AeratedCup,
    Aeration,
    Algaecide,
    Dose,
    Feed,
    Feeding,
    HandTest,
    Ice,
    Media,
    Medication,
    Rain,
    TopUp,
    WaterChange,
)
from dawnline.logbook.probe_acts import (
    DESK_KINDS,
    PROBE_KINDS,
    Acknowledge,
    Adjusted,
    BufferCheck,
    Calibrated,
    Calibration,
    Cleaning,
    ReturnProbe,
    Shelve,
    Unshelve,
)
from dawnline.typed.say import fault, nearest, short

__all__ = [
    "AMENDING", "CARE", "EXPLAINED", "HELD", "IN_BUFFERS", "KINDS", "POND_KINDS", "PROBE_KINDS", "RECALLED",
    "Acknowledge", "Adjusted", "AeratedCup",
    "Aeration", "Algaecide", "AtProbe", "BufferCheck", "Calibrated", "Calibration", "Cleaning", "Correct", "Dose",
    "Entry", "Feed", "Feeding", "HandTest", "Ice", "Media", "Medication", "Rain", "Record", "ReturnProbe", "Shelve",
    "TopUp", "Unshelve", "WaterChange", "Withdraw", "read", "read_kept",
]  # fmt: skip

AMENDING: Final[dict[str, type[Entry]]] = {"correct": Correct, "withdraw": Withdraw}
KINDS: Final[dict[str, type[Entry]]] = {**POND_KINDS, **PROBE_KINDS, **AMENDING, **DESK_KINDS}

IN_BUFFERS: Final = ("calibrated", "buffer-check")  # a probe stood in buffer solutions
HELD: Final = (*IN_BUFFERS, "adjusted")  # what the calibration in force follows from
CARE: Final = (*HELD, "cleaning")  # and what a record is corrected by
RECALLED: Final = (*CARE, "hand-test", "media", *AMENDING)  # what a memory built anew is told of earlier years

# Alarms a known act at the water sets off by itself, and for how long it explains them. Common practice, no source.
EXPLAINED: Final[dict[str, tuple[tuple[str, ...], int]]] = {
    "water-change": (("sudden-drop", "night-slide", "wide-swing", "probe-suspect"), 2 * HOUR_MS),
    "dose": (("sudden-drop", "night-slide", "wide-swing", "probe-suspect"), 2 * HOUR_MS),
    "top-up": (("probe-suspect",), HOUR_MS),
    "salt": (("probe-suspect",), HOUR_MS),
}


def read_kept(act: Act) -> Entry | None:
    """What was accepted once; None where it was by another version of the program."""
    try:
        return read(act.kind, act.body)
    except InputError:
        return None


def read(kind: str, body: Mapping[str, Any]) -> Entry:
    """The act, checked. Raises InputError that names the kind or the key, what was found and what is expected."""
    model = KINDS.get(kind)
    if model is None:
        raise InputError(f"unknown act {short(kind)}; {nearest(kind, KINDS)}")
    try:
        return model.model_validate(dict(body))
    except ValidationError as error:
        raise InputError("; ".join(fault(kind, model, line) for line in error.errors())) from None
