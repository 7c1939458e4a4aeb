"""What the desk remembers of one alarm of one probe: its clockwork, its state, its episode, and what hides it."""

from __future__ import annotations

from typing import Any

from dawnline.alarms.states import State
from dawnline.alarms.timing import Timing
from dawnline.event import PRIORITIES, Priority
from dawnline.state import Stateful


class Memory(Stateful):
    """What is remembered of one alarm of one probe."""

    KEPT = (
        "timing", "state_name", "id", "ended", "since", "priority", "value", "evidence",
        "shelved_until", "suppressed_until", "out_until", "actor",
    )  # fmt: skip

    def __init__(self) -> None:
        self.timing = Timing()
        self.state_name = State.NORMAL.name
        self.id: int | None = None  # of the running episode, or of the last one while something remembers it
        self.ended = True
        self.since = 0
        self.priority: Priority = "low"
        self.value: float | None = None
        self.evidence = ""
        self.shelved_until = self.suppressed_until = self.out_until = 0
        self.actor = ""

    @property
    def state(self) -> State:
        """The alarm's state."""
        return State[self.state_name]

    def restore(self, saved: dict[str, Any]) -> None:
        """As `Stateful.restore`; raises ValueError for a state or a priority that does not exist."""
        super().restore(saved)
        if self.state_name not in State.__members__ or self.priority not in PRIORITIES:
            raise ValueError(f"saved state has an alarm that is {self.state_name!r}, of {self.priority!r} priority")
