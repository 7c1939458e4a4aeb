"""A sick probe: most of its latest readings are not good, or its pH stepped as only an instrument does.

Water mixes over minutes. A step within one reading, after which the probe stays where it landed, is a wire, a dry
glass or a bumped probe; the check in quality/spike remembers such steps.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import HOUR_MS
from dawnline.outlook.finding import Condition
from dawnline.quality.spike import Spike
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

LATEST: Final = 10
MOST_BAD: Final = 6
STEP_REMEMBERED_MS: Final = HOUR_MS


class Sick(Stateful):
    """Watches how many of one probe's latest readings can be believed."""

    KEPT = ("latest", "reason")

    def __init__(self) -> None:
        self.latest: deque[int] = deque(maxlen=LATEST)  # 1 for a reading that is not good
        self.reason = 0

    def push(self, flag: Flag, reason: Reason) -> None:
        """Take one verdict."""
        bad = flag in (Flag.SUSPECT, Flag.FAIL)
        self.latest.append(1 if bad else 0)
        if bad:
            self.reason = int(reason)

    def forget(self) -> None:
        """Begin anew: what the probe said before it was seen to does not count against it."""
        self.latest.clear()

    def condition(self, at: int, spike: Spike) -> Condition:
        """MET with six of the last ten readings bad, or within an hour of an instrument's step."""
        bad = sum(self.latest)
        if bad >= MOST_BAD or self.stepped(at, spike):
            return Condition.MET
        return Condition.CLEAR if bad <= 1 else Condition.BETWEEN

    @staticmethod
    def stepped(at: int, spike: Spike) -> bool:
        """Whether an instrument's step lies within the last hour."""
        return spike.step_at is not None and at - spike.step_at <= STEP_REMEMBERED_MS

    def evidence(self, at: int, spike: Spike) -> str:
        """What is wrong, in words."""
        bad = sum(self.latest)
        if bad >= MOST_BAD:
            return (
                f"{bad} of the last {len(self.latest)} readings are not good (the latest: {Reason(self.reason).label})"
            )
        if self.stepped(at, spike):
            return f"the reading stepped by {spike.step_size:+.2f} within one sample, as water does not"
        return f"{bad} of the last {len(self.latest)} readings are not good"
