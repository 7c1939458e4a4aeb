"""Tests by hand beside what the pH probes say; one that a probe has nothing to say to yet waits until it has."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Final

from dawnline.duration import MINUTE_MS
from dawnline.outlook.ph_watch import PhWatch
from dawnline.state import Stateful

JUST_NOW_MS: Final = 10 * MINUTE_MS  # a test by hand so long ago is still held against what the probe says now


class Tested(Stateful):
    """The tests that wait: after a start, while a probe is silent, or while it is being seen to."""

    KEPT: ClassVar[tuple[str, ...]] = ("waiting",)

    def __init__(self) -> None:
        self.waiting: list[tuple[str, int, float]] = []  # probe, when [ms], pH by hand

    def take(self, at: int, by_hand: float, ph: Sequence[PhWatch]) -> None:
        """Somebody measured `by_hand` at `at` [ms]."""
        self.waiting += [(watch.probe, at, by_hand) for watch in ph]
        self.minute(at, ph)

    def amend(self, at: int, by_hand: float | None) -> None:
        """The test of `at` [ms] measured `by_hand`, as was said later; None for none at all."""
        rows = [(probe, when, found if when != at else by_hand) for probe, when, found in self.waiting]
        self.waiting = [(probe, when, found) for probe, when, found in rows if found is not None]

    def minute(self, at: int, ph: Sequence[PhWatch]) -> None:
        """Compare what can be compared at `at` [ms], and give up what has waited too long."""
        if not self.waiting:
            return
        speaking = {watch.probe: watch for watch in ph if watch.live(at) and watch.current_at >= watch.out_until}
        rows, self.waiting = self.waiting, []
        for row in rows:
            probe, when, by_hand = row
            if probe in speaking:
                speaking[probe].tested(when, by_hand)
            elif at - when < JUST_NOW_MS:
                self.waiting.append(row)
