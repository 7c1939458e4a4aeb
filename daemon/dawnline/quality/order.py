"""Time order: repeats, late comers, senders ahead of the clock, readings without a believable time.

Every late, doubled or undated sample finds its home here and nowhere else.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.quality.verdict import GOOD, Verdict
from dawnline.reading import Flag, Reason, Sample
from dawnline.state import Stateful

AHEAD_MS: Final = 2 * MINUTE_MS  # a sender's clock may be this far ahead of ours; common practice, no source
REMEMBERED_GAPS: Final = 15
# A board that lost its link sends again what it has no answer for, in its order: as many as may be under way.
REMEMBERED_SAID: Final = 40


class Order(Stateful):
    """Order of one probe's samples, and the interval at which it speaks."""

    KEPT = ("last_at", "last_value", "gaps", "learned", "repeats", "said")

    def __init__(self, interval: int | None = None) -> None:
        self.configured = interval
        self.last_at: int | None = None
        self.last_value = 0.0
        self.gaps: deque[int] = deque(maxlen=REMEMBERED_GAPS)
        self.learned: int | None = None
        self.repeats = 0
        self.said: deque[tuple[int, float]] = deque(maxlen=REMEMBERED_SAID)  # time and value of the latest ones

    @property
    def interval(self) -> int | None:
        """How often this probe speaks [ms]: as configured, else the median of its latest gaps, else None."""
        return self.configured or self.learned

    def push(self, sample: Sample) -> Verdict | None:
        """The verdict on this sample's time, or None for an exact repeat of a recent one: dropped and counted."""
        last, at = self.last_at, sample.at
        if not sample.dated:
            return Flag.NOT_EVALUATED, Reason.UNDATED
        if last is not None and at <= last:
            if (at, sample.value) in self.said or (at == last and sample.value == self.last_value):
                self.repeats += 1
                return None
            self.said.append((at, sample.value))
            return Flag.SUSPECT, Reason.OUT_OF_ORDER if at < last else Reason.REPEATED_TIME
        if at > sample.received_at + AHEAD_MS:
            return Flag.NOT_EVALUATED, Reason.AHEAD_OF_CLOCK
        if last is not None:
            self._learn(at - last)
        self.last_at, self.last_value = at, sample.value
        self.said.append((at, sample.value))
        return GOOD

    def _learn(self, gap: int) -> None:
        gaps, learned = self.gaps, self.learned
        gaps.append(gap)
        if learned is None or not 0.8 * learned <= gap <= 1.25 * learned:
            self.learned = sorted(gaps)[len(gaps) // 2]
