"""The watch over an oxygen probe: whether fish have enough.

At night plants, algae, fish and filter use oxygen and nothing makes any: it is least at dawn, with the pH.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.limits import beside, low_side
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.watch import Watch
from dawnline.quality.judge import Judge

if TYPE_CHECKING:
    from collections.abc import Mapping

ALARM = "oxygen-low"


class OxygenWatch(Watch):
    """One probe of dissolved oxygen [mg/L]."""

    def __init__(self, probe: str, judge: Judge, limits: LimitSettings) -> None:
        super().__init__(probe, "dissolved_oxygen", judge)
        self.limits = limits

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """As `Watch.conditions`, with the limit."""
        value = self.present(at)
        judged = Condition.UNKNOWN if value is None else low_side(value, self.limits.oxygen_low, deadbands[ALARM])
        return [*super().conditions(at, deadbands), (ALARM, judged)]

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """As `Watch.finding`; below the lower of the two limits it is of high priority."""
        if alarm != ALARM or self.newest is None:
            return super().finding(alarm, condition, at)
        seen, value, _ = self.newest
        danger = condition is Condition.MET and value < self.limits.oxygen_very_low
        limit = self.limits.oxygen_very_low if danger else self.limits.oxygen_low
        text = beside(value, self.quantity, "below", limit)
        return Finding(alarm, self.probe, at, condition, value, text, "high" if danger else None, observed_at=seen)
