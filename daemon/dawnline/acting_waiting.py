"""What waits until a pH probe is back: tests by hand that it has nothing to say to yet, and what spoke against it.

The latter counts again where its time in the buffers comes to nothing.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import ClassVar, Final

from dawnline.duration import MINUTE_MS
from dawnline.outlook.ph_watch import PhWatch
from dawnline.state import Stateful

JUST_NOW_MS: Final = 10 * MINUTE_MS  # a test by hand so long ago is still held against what the probe says now
AS_BEFORE_PH: Final = 0.3  # by how much water may have moved while it stood in buffers; common practice, no source
# What its time in the buffers does not disprove; that it stood still or trembled is soon seen anew.
_STANDS: Final = ("slow", "rise", "hand", "twin", "regained")


class Waiting(Stateful):
    """A test waits after a start, while its probe is silent, and while that is being seen to."""

    KEPT: ClassVar[tuple[str, ...]] = ("tests", "against")

    def __init__(self) -> None:
        self.tests: list[tuple[str, int, float]] = []  # probe, when [ms], pH by hand
        self.against: dict[str, str] = {}  # by probe, what spoke against it, as JSON

    def forget(self) -> None:
        """Time of unknown length has passed."""
        self.tests.clear()
        self.against.clear()

    def test(self, at: int, by_hand: float, ph: Sequence[PhWatch]) -> None:
        """Somebody measured `by_hand` at `at` [ms]."""
        self.tests += [(watch.probe, at, by_hand) for watch in ph]
        self.minute(at, ph)

    def amend(self, at: int, by_hand: float | None) -> None:
        """The test of `at` [ms] measured `by_hand`, as was said later; None for none at all."""
        rows = [(probe, when, found if when != at else by_hand) for probe, when, found in self.tests]
        self.tests = [(probe, when, found) for probe, when, found in rows if found is not None]

    def begin(self, watch: PhWatch) -> None:
        """It goes into buffers, or out of service; until it is back this is still the work that began first."""
        doubt = {name: getattr(watch.doubt, name).save() for name in _STANDS}
        held = {"said": _said(watch), "step": watch.judge.step.save(), "doubt": doubt}
        self.against.setdefault(watch.probe, json.dumps(held))

    def seen_to(self, probe: str) -> None:
        """It was calibrated, found right, or cleaned: what spoke against it before does so no more."""
        self.against.pop(probe, None)

    def _back(self, watch: PhWatch) -> None:
        """It speaks again: as it did before, or somebody has seen to it on the way."""
        held, said = json.loads(self.against.pop(watch.probe)), _said(watch)
        if held["said"] is None or said is None or abs(said - held["said"]) > AS_BEFORE_PH:
            watch.twin.forget()
            return
        watch.judge.step.restore(held["step"] | {"latest": watch.judge.step.save()["latest"]})
        for name in _STANDS:
            getattr(watch.doubt, name).restore(held["doubt"][name])

    def minute(self, at: int, ph: Sequence[PhWatch]) -> None:
        """Who is back at `at` [ms] is; compare what can be compared, and give up what has waited too long."""
        if not (self.tests or self.against):
            return
        speaking = {watch.probe: watch for watch in ph if watch.live(at) and watch.current_at >= watch.out_until}
        for probe in self.against.keys() & speaking.keys():
            self._back(speaking[probe])
        rows, self.tests = self.tests, []
        for row in rows:
            probe, when, by_hand = row
            if probe in speaking:
                speaking[probe].tested(when, by_hand)
            elif at - when < JUST_NOW_MS:
                self.tests.append(row)


def _said(watch: PhWatch) -> float | None:
    """The pH that it showed last, whatever is known of its error."""
    return None if watch.newest is None else watch.shown(watch.newest[1])
