"""Alarms and how they were handled: the transitions of each episode in one row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from dawnline.event import PRIORITIES, Priority, Transition

DOUBTED: Final = "probe-suspect"
"""The alarm by which a probe is doubted: while it stands, nothing the probe says is to be trusted, nor did it then."""


@dataclass(frozen=True, slots=True)
class Episode:
    """One episode of an alarm, as far as its transitions are known; times in ms.

    `raised_at` is None where that is not among them. `priority` is the highest it had. `ended_at` is None where it was
    still there at the end; it ends but once, behind a shelf too.
    """

    id: int
    alarm: str
    probe: str | None
    priority: Priority
    since: int
    raised_at: int | None
    acknowledged_at: int | None
    acknowledged_by: str
    ended_at: int | None
    shelved: bool
    text: str

    @property
    def told_at(self) -> int:
        """When it was raised, as far as that is known [ms]."""
        return self.since if self.raised_at is None else self.raised_at

    def within(self, start: int, end: int) -> bool:
        """Whether it stood at some time from `start` to before `end` [ms]."""
        return self.told_at < end and (self.ended_at is None or self.ended_at > start)

    @property
    def answered_after(self) -> int | None:
        """From raised to acknowledged [ms]."""
        if self.raised_at is None or self.acknowledged_at is None:
            return None
        return self.acknowledged_at - self.raised_at


def episodes(transitions: Iterable[Transition]) -> list[Episode]:
    """One row an episode, in the order in which they appear."""
    found: dict[int, list[Transition]] = defaultdict(list)
    for each in transitions:
        found[each.id].append(each)
    return [_episode(of) for of in found.values()]


def _episode(of: Sequence[Transition]) -> Episode:
    raised = next((each for each in of if each.change == "raised"), None)
    taken = next((each for each in of if each.change == "acknowledged"), None)
    ended = next((each for each in of if each.change == "returned"), None)
    return Episode(
        id=of[0].id,
        alarm=of[0].alarm,
        probe=of[0].probe,
        priority=max((each.priority for each in of), key=PRIORITIES.index),
        since=min(each.since for each in of) if raised is None else raised.since,
        raised_at=None if raised is None else raised.at,
        acknowledged_at=None if taken is None else taken.at,
        acknowledged_by="" if taken is None else taken.actor,
        ended_at=None if ended is None else ended.at,
        shelved=any(each.change == "shelved" for each in of),
        text=next((each.text for each in reversed(of) if each.change in ("raised", "escalated")), of[0].text),
    )
