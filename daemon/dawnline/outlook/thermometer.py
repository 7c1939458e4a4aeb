"""The watch over a thermometer: also whether it moved faster than a pond's water does.

A garden pond warms by a degree or two in an afternoon. A thermometer that moves by one within minutes has left the
water, and a pH probe beside it too. Common practice, no source.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.event import Day, Forecast
from dawnline.outlook.watch import Watch
from dawnline.quality.judge import Judge

WINDOW_MINUTES: Final = 10
LEAP_C: Final = 1.0
SEEN_MS: Final = 2 * MINUTE_MS


class Thermometer(Watch):
    """One temperature probe."""

    KEPT = (*Watch.KEPT, "minutes")

    def __init__(self, probe: str, judge: Judge) -> None:
        super().__init__(probe, "temperature", judge)
        self.minutes: deque[float] = deque(maxlen=WINDOW_MINUTES)  # the newest value of each minute [degC]

    def minute(self, at: int) -> list[Day | Forecast]:
        """As `Watch.minute`."""
        if self.newest is not None and at - self.newest[0] <= max(SEEN_MS, self.interval):
            self.minutes.append(self.newest[1])
        else:
            self.minutes.clear()
        return []

    def leapt(self) -> bool:
        """Whether it moved by a degree within the last ten minutes."""
        return len(self.minutes) > 1 and max(self.minutes) - min(self.minutes) > LEAP_C
