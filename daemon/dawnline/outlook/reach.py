"""Reach: whether notices get to people. An alarm that nobody gets is none.

A way to a person is failing from the first attempt that failed until one arrives, or until nothing was tried on it for
a day (an address that was changed is not held against its successor). It is an alarm of high priority where one of high
priority does not arrive, else of medium.
"""

from __future__ import annotations

import hashlib
from typing import Final

from dawnline.duration import DAY_MS
from dawnline.event import Delivered, Priority
from dawnline.outlook.finding import Condition, Finding
from dawnline.state import Stateful

FORGOTTEN_MS: Final = DAY_MS
KEY_PARTS: Final = 5  # a letter's key begins with kind/priority/incident/reason/time; person and address follow


class Reach(Stateful):
    """Watches the ways to people; addresses are kept as digests, since they may hold a secret."""

    KEPT = ("ways",)

    def __init__(self) -> None:
        self.ways: dict[
            str, tuple[int, int, str, str, bool]
        ] = {}  # digest: failing since, last tried, person, why, high

    def restore(self, saved: dict[str, dict[str, list[object]]]) -> None:
        """As `Stateful.restore`."""
        super().restore(saved)
        self.ways = {key: tuple(way) for key, way in saved["ways"].items()}  # type: ignore[misc]

    def take(self, event: Delivered) -> None:
        """Take the end of one attempt."""
        *head, way = event.key.split("/", KEY_PARTS)
        digest = _digest(way)
        if event.outcome == "delivered":
            self.ways.pop(digest, None)
            return
        before = self.ways.get(digest)
        since, high = (event.at, False) if before is None else (before[0], before[4])
        high = high or head[1:2] == ["high"]
        self.ways[digest] = (since, event.at, way.split("/")[0], event.text, high)

    def fails(self, person: str, address: str) -> bool:
        """Whether the last attempt at this address failed."""
        return bool(self.ways) and _digest(f"{person}/{address}") in self.ways

    def finding(self, at: int) -> Finding:
        """How things stand at `at`."""
        for digest, way in list(self.ways.items()):
            if at - way[1] > FORGOTTEN_MS:
                del self.ways[digest]
        if not self.ways:
            return Finding("delivery-failing", None, at, Condition.CLEAR, None, "notices arrive again")
        since, _, person, why, _ = min(self.ways.values())
        priority: Priority = "high" if any(way[4] for way in self.ways.values()) else "medium"
        more = f" and {len(self.ways) - 1} more" if len(self.ways) > 1 else ""
        return Finding("delivery-failing", None, at, Condition.MET, None, f"{person}{more}: {why}", priority, since)


def _digest(way: str) -> str:
    return hashlib.blake2b(way.encode(), digest_size=6).hexdigest()
