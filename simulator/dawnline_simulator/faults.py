"""How the instrument, and not the pond, goes wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias
from zoneinfo import ZoneInfo

from dawnline_simulator.dice import Dice
from dawnline_simulator.happenings import HOUR_MS, moment

Line: TypeAlias = Literal["whole", "silent", "garbage", "unplugged"]

DAY_MS = 24 * HOUR_MS


@dataclass(frozen=True, slots=True)
class Drift:
    """The pH reading moves away by `ph_per_day`, for `hours`; then it keeps what it has."""

    day: int
    clock: str
    hours: float
    ph_per_day: float


@dataclass(frozen=True, slots=True)
class OutOfWater:
    """Both probes hang in the air: pH means nothing, temperature goes to that of the air."""

    day: int
    clock: str
    hours: float


@dataclass(frozen=True, slots=True)
class WireBreaks:
    """The line falls `silent`, carries `garbage`, or is `unplugged` (the port itself goes away)."""

    day: int
    clock: str
    hours: float
    line: Line


Fault: TypeAlias = Drift | OutOfWater | WireBreaks

LABELS = {
    Drift: ("probe starts to drift", "probe drifts no further"),
    OutOfWater: ("probe out of the water", "probe back in the water"),
    WireBreaks: ("wire breaks", "wire is whole"),
}


@dataclass(frozen=True, slots=True)
class DatedFault:
    """A fault with its begin and end in Unix ms."""

    what: Fault
    begin: int
    end: int


def date(what: Fault, first_midnight: int, zone: ZoneInfo) -> DatedFault:
    """A fault on the calendar."""
    begin = moment(first_midnight, zone, what.day, what.clock)
    return DatedFault(what, begin, begin + round(what.hours * HOUR_MS))


def drift_at(faults: tuple[DatedFault, ...], at: int) -> float:
    """What drift has added to the pH reading by now [pH].

    >>> drift_at((DatedFault(Drift(1, "00:00", 48.0, -0.1), 0, 2 * DAY_MS),), DAY_MS)
    -0.1
    """
    total = 0.0
    for fault in faults:
        if isinstance(fault.what, Drift) and at > fault.begin:
            total += fault.what.ph_per_day * (min(at, fault.end) - fault.begin) / DAY_MS
    return total


def out_of_water(faults: tuple[DatedFault, ...], at: int) -> bool:
    """Do the probes hang in the air?"""
    return any(isinstance(f.what, OutOfWater) and f.begin <= at < f.end for f in faults)


def line_at(faults: tuple[DatedFault, ...], at: int) -> Line:
    """The state of the wire."""
    for fault in faults:
        if isinstance(fault.what, WireBreaks) and fault.begin <= at < fault.end:
            return fault.what.line
    return "whole"


class Air:
    """The potential of a glass bulb that dries: a level of its own at once, then a ragged walk."""

    def __init__(self, dice: Dice) -> None:
        self._dice = dice
        self._ph: float | None = None

    def ph(self, water_ph: float) -> float:
        """The next meaningless pH, between 2 and 12."""
        if self._ph is None:
            side = 1.0 if self._dice.random() < 0.5 else -1.0
            self._ph = water_ph + side * self._dice.uniform(0.6, 1.6)
        self._ph = min(12.0, max(2.0, self._ph + self._dice.gauss(0.0, 0.08)))
        return self._ph

    def back(self) -> None:
        """It is in the water again."""
        self._ph = None
