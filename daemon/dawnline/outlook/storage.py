"""Storage: whether what is measured is written down. A watch that forgets is half a watch.

Nobody has to get up for it while memory holds what the card does not take, for readings are judged and people told all
the same: so it is of medium priority, by the time there is to act (ANSI/ISA-18.2: priority follows from consequence and
the time to respond). It becomes high where memory is getting full, or after a day: a power cut would take all of it.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import DAY_MS
from dawnline.event import Priority, Storing
from dawnline.outlook.finding import Condition, Finding
from dawnline.state import Stateful

ALARM: Final = "store-failing"
LONG_MS: Final = DAY_MS


class Storage(Stateful):
    """How the store stands, as it was said last. `since` [ms] is None where all is well."""

    KEPT = ("since", "trouble", "grave")

    def __init__(self) -> None:
        self.since: int | None = None
        self.trouble = ""
        self.grave = False

    def take(self, event: Storing) -> None:
        """Take what was said of the store."""
        if not event.trouble:
            self.since = None
        elif self.since is None:
            self.since = event.at
        self.trouble, self.grave = event.trouble, event.grave

    def finding(self, at: int) -> Finding:
        """How things stand at `at`."""
        if self.since is None:
            return Finding(ALARM, None, at, Condition.CLEAR, None, "everything is written again")
        high = self.grave or at - self.since >= LONG_MS
        priority: Priority = "high" if high else "medium"
        return Finding(ALARM, None, at, Condition.MET, None, self.trouble, priority, self.since)
