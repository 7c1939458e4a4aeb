"""Attenuated signal (QARTOD test 10): a value that hardly moves over a day and night.

Life moves pH with the light; a bulb under slime, in a cap or in a dead corner shows a line that is nearly flat, though
never quite. Highest less lowest over the trailing period (t - period, t] is compared with a limit, as in ioos_qc with
`check_type="range"`; the standard deviation, which the manual also allows, says nothing more of a day.

A real crash cannot be hidden by this: what falls, moves, and the verdict is taken afresh with each value. The limit is
far below the swing of a living pond, and below the hiss of an ordinary probe.
"""

from __future__ import annotations

from typing import Final

from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

GRAINS: Final = 48  # of a period: what has left it is noticed so finely; common practice, no source
LONGEST_SILENCE: Final = 8  # a gap longer than this part of the period leaves too little to judge by

_SUSPECT: Final[Verdict] = (Flag.SUSPECT, Reason.ATTENUATED)
_FAIL: Final[Verdict] = (Flag.FAIL, Reason.ATTENUATED)


class Attenuated(Stateful):
    """Range of one series over a trailing `period` [ms]; below `suspect`, below `fail`, in its unit.

    Values are gathered in grains of `grain` ms, so that the memory stays small; 0 keeps every value. `since` is when
    the range was first found too small, None while it is not.
    """

    KEPT = ("first_at", "since", "grains", "low", "high", "open_at", "open_low", "open_high")

    def __init__(self, suspect: float, fail: float, *, period: int, grain: int | None = None) -> None:
        self.suspect, self.fail, self.period = suspect, fail, period
        self.grain = period // GRAINS if grain is None else grain
        self.forget()

    def forget(self) -> None:
        """Begin anew."""
        self.first_at: int | None = None
        self.since: int | None = None
        self.grains: list[tuple[int, float, float]] = []  # first time, lowest, highest of each that is full
        self.low, self.high = float("inf"), float("-inf")  # of these grains
        self.open_at = 0
        self.open_low, self.open_high = float("inf"), float("-inf")

    def skip(self, gap: int) -> None:
        """`gap` ms passed without a reading."""
        if gap > self.period // LONGEST_SILENCE:
            self.forget()

    def push(self, at: int, value: float) -> Verdict:
        """The verdict on the period that ends with `value`, measured at `at` [ms]; not before one is full."""
        first = self.first_at
        if first is None:
            first = self.first_at = self.open_at = at
        elif at - self.open_at >= self.grain:
            self._turn(at)
        if not self.open_low <= value <= self.open_high:
            self.open_low, self.open_high = min(self.open_low, value), max(self.open_high, value)
        if at - first < self.period:
            return NOT_EVALUATED
        if self.open_high - self.open_low >= self.suspect:  # as nearly always
            self.since = None
            return GOOD
        width = max(self.high, self.open_high) - min(self.low, self.open_low)
        if width >= self.suspect:
            self.since = None
            return GOOD
        self.since = self.since or at
        return _FAIL if width < self.fail else _SUSPECT

    def _turn(self, at: int) -> None:
        """The open grain is full; those that have left the period go."""
        self.grains.append((self.open_at, self.open_low, self.open_high))
        left = at - self.period
        self.grains = [grain for grain in self.grains if grain[0] > left]
        self.low = min((grain[1] for grain in self.grains), default=float("inf"))
        self.high = max((grain[2] for grain in self.grains), default=float("-inf"))
        self.open_at, self.open_low, self.open_high = at, float("inf"), float("-inf")
