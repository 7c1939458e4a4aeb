"""Storage: whether what is measured is written down. A watch that forgets is half a watch.

A power cut takes what was not written down, and after it nobody knows who was told what: that is of high priority. A
damaged record that lies aside while a new one is written is of medium priority: it keeps until morning.
"""

from __future__ import annotations

from typing import Final

from dawnline.event import Priority, Storing
from dawnline.outlook.finding import Condition, Finding
from dawnline.state import Stateful

ALARM: Final = "store-failing"


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
        priority: Priority = "high" if self.grave else "medium"
        return Finding(ALARM, None, at, Condition.MET, None, self.trouble, priority, self.since)
