"""On-delay, off-delay and deadband: when a condition becomes an alarm, and when it has ended.

A condition must hold for the whole on-delay and over more than one observation; it has ended when the value stayed
past the deadband for the whole off-delay. `UNKNOWN` neither begins nor ends anything.
"""

from __future__ import annotations

from dawnline.alarms.states import Move
from dawnline.outlook.finding import Condition, Finding
from dawnline.state import Stateful


class Timing(Stateful):
    """The clockwork of one alarm; all times in ms of pond time."""

    KEPT = ("active", "met_since", "met_seen", "clear_since")

    def __init__(self) -> None:
        self.active = False
        self.met_since: int | None = None  # when the condition began
        self.met_seen: int | None = None  # the observation it began with
        self.clear_since: int | None = None

    @property
    def idle(self) -> bool:
        """Nothing pending, nothing active."""
        return not self.active and self.met_since is None

    def push(self, finding: Finding, on_delay: int, off_delay: int) -> Move | None:
        """OCCUR or RETURN where this finding completes a delay, else None."""
        if finding.condition is Condition.MET:
            return self._met(finding, on_delay)
        if finding.condition is Condition.CLEAR:
            return self._clear(finding.at, off_delay)
        if finding.condition is Condition.BETWEEN:
            self.clear_since = None
            if not self.active:
                self.met_since = None
        return None

    def forget(self) -> None:
        """Let go of what is pending (after maintenance the water is judged afresh)."""
        self.clear_since = None
        if not self.active:
            self.met_since = None

    def _met(self, finding: Finding, on_delay: int) -> Move | None:
        self.clear_since = None
        if self.met_since is None:
            self.met_since = finding.at if finding.since is None else finding.since
            self.met_seen = finding.observed_at
        if self.active or finding.at - self.met_since < on_delay:
            return None
        if finding.observed_at is not None and finding.observed_at == self.met_seen and finding.since is None:
            return None
        self.active = True
        return Move.OCCUR

    def _clear(self, at: int, off_delay: int) -> Move | None:
        if not self.active:
            self.met_since = None
            return None
        if self.clear_since is None:
            self.clear_since = at
        if at - self.clear_since < off_delay:
            return None
        self.active, self.met_since, self.clear_since = False, None, None
        return Move.RETURN
