"""Silence: a probe that should have spoken and did not."""

from __future__ import annotations

from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS, show_duration
from dawnline.outlook.finding import Condition
from dawnline.state import Stateful

INTERVALS: Final = 3
LEAST_MS: Final = 5 * MINUTE_MS
UNKNOWN_INTERVAL_MS: Final = HOUR_MS  # patience with a probe whose interval is not known yet


class Silence(Stateful):
    """Watches one probe's silence from the moment the watch begins."""

    KEPT = ("heard_at",)

    def __init__(self) -> None:
        self.heard_at: int | None = None

    def heard(self, at: int) -> None:
        """The probe has spoken, whatever it said."""
        if self.heard_at is None or at > self.heard_at:
            self.heard_at = at

    def condition(self, at: int, interval: int | None) -> Condition:
        """MET when nothing came for three intervals and at least five minutes."""
        if self.heard_at is None:
            self.heard_at = at
        patience = max(LEAST_MS, INTERVALS * interval) if interval else UNKNOWN_INTERVAL_MS
        return Condition.MET if at - self.heard_at > patience else Condition.CLEAR

    def evidence(self, at: int) -> str:
        """The silence in words."""
        return f"nothing received for {show_duration(at - (self.heard_at or at))}"
