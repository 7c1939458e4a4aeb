"""What is known of one probe: the calibration in force, the earlier ones, quick checks, comparisons with hand tests."""

from __future__ import annotations

from collections import deque
from typing import Any, ClassVar, Final, NamedTuple

from dawnline.electrode.calibration import IDEAL, Calibration
from dawnline.state import Stateful

REMEMBERED: Final = 60  # of each kind: years of a keeper's care


class Check(NamedTuple):
    """A quick check in one buffer, nothing adjusted: its pH, what the probe made of it, and the warmth [degC]."""

    at: int
    buffer_ph: float
    read_ph: float
    temperature_c: float

    @property
    def error(self) -> float:
        """What the probe read too much [pH]."""
        return self.read_ph - self.buffer_ph


class Comparison(NamedTuple):
    """A test by hand beside what the probe said just then, both in pH."""

    at: int
    by_hand: float
    by_probe: float


class History(Stateful):
    """The history of one probe; `in_force` is ideal until somebody calibrates."""

    KEPT: ClassVar[tuple[str, ...]] = ("checks", "hand_tests")

    def __init__(self, quantity: str) -> None:
        self.in_force: Calibration = IDEAL[quantity]
        self.kept: deque[Calibration] = deque(maxlen=REMEMBERED)  # the one in force is the last
        self.checks: deque[Check] = deque(maxlen=REMEMBERED)
        self.hand_tests: deque[Comparison] = deque(maxlen=REMEMBERED)

    def keep(self, calibration: Calibration) -> None:
        """Put a calibration in its place by time: the latest is in force."""
        self._hold([*self.kept, calibration])

    def take_back(self, name: str) -> bool:
        """The calibration that the act of this name told of never was; whether there was one."""
        kept = [each for each in self.kept if each.name != name]
        found = len(kept) < len(self.kept)
        if found:
            self._hold(kept)
        return found

    def _hold(self, kept: list[Calibration]) -> None:
        self.kept = deque(sorted(kept, key=lambda each: each.at), REMEMBERED)
        self.in_force = self.kept[-1] if self.kept else IDEAL[self.in_force.quantity]

    def save(self) -> dict[str, Any]:
        """As `Stateful.save`."""
        return {**super().save(), "kept": [each.as_json() for each in self.kept]}

    def restore(self, saved: dict[str, Any]) -> None:
        """As `Stateful.restore`. Raises ValueError, LookupError or TypeError where it is of another shape.

        A probe whose quantity has changed since begins anew.
        """
        super().restore(saved)
        kept = [Calibration.from_json(each) for each in saved["kept"]]
        if any(each.quantity != self.in_force.quantity for each in kept):
            self.checks.clear()
            self.hand_tests.clear()
            return
        self.checks = deque((Check(*each) for each in self.checks), REMEMBERED)
        self.hand_tests = deque((Comparison(*each) for each in self.hand_tests), REMEMBERED)
        self.kept = deque(kept, REMEMBERED)
        if kept:
            self.in_force = kept[-1]
