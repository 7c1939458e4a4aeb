"""The watch over a thermometer: also whether it moved faster than a pond's water does.

A garden pond warms by a degree or two in an afternoon. A thermometer that moves by one within minutes has left the
water, and a pH probe beside it too. Common practice, no source.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Final

from dawnline.duration import MINUTE_MS
from dawnline.event import Day, Forecast
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.limits import beside, high_side, low_side
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.watch import Watch
from dawnline.quality.judge import Judge

if TYPE_CHECKING:
    from collections.abc import Mapping

WINDOW_MINUTES: Final = 10
LEAP_C: Final = 1.0
SEEN_MS: Final = 2 * MINUTE_MS


class Thermometer(Watch):
    """One temperature probe."""

    KEPT = (*Watch.KEPT, "minutes")

    def __init__(self, probe: str, judge: Judge, limits: LimitSettings | None = None) -> None:
        super().__init__(probe, "temperature", judge)
        self.limits = limits or LimitSettings()
        self.limited = (self.limits.temperature_low, self.limits.temperature_high) != (None, None)
        self.minutes: deque[float] = deque(maxlen=WINDOW_MINUTES)  # the newest value of each minute [degC]

    def minute(self, at: int) -> list[Day | Forecast]:
        """As `Watch.minute`."""
        if self.newest is not None and at - self.newest[0] <= max(SEEN_MS, self.interval):
            self.minutes.append(self.newest[1])
        else:
            self.minutes.clear()
        return []

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """As `Watch.conditions`, with the limits there are; one that is gone ends its alarm."""
        result = super().conditions(at, deadbands)
        value = self.present(at) if self.limited else None
        for alarm, limit, side in (
            ("temperature-low", self.limits.temperature_low, low_side),
            ("temperature-high", self.limits.temperature_high, high_side),
        ):
            unknown = Condition.CLEAR if limit is None else Condition.UNKNOWN
            judged = unknown if limit is None or value is None else side(value, limit, deadbands[alarm])
            result.append((alarm, judged))
        return result

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """As `Watch.finding`, for the limits too."""
        if alarm not in ("temperature-low", "temperature-high") or self.newest is None:
            return super().finding(alarm, condition, at)
        seen, value, _ = self.newest
        low = alarm == "temperature-low"
        limit = self.limits.temperature_low if low else self.limits.temperature_high
        text = beside(value, self.quantity, "below" if low else "above", limit)
        return Finding(alarm, self.probe, at, condition, value, text, observed_at=seen)

    def leapt(self) -> bool:
        """Whether it moved by a degree within the last ten minutes."""
        return len(self.minutes) > 1 and max(self.minutes) - min(self.minutes) > LEAP_C
