"""What the desk remembers of one alarm of one probe: its clockwork, its state, its episode, and what hides it."""

from __future__ import annotations

from typing import Any, Final

from dawnline.alarms.states import State
from dawnline.alarms.timing import Timing
from dawnline.event import PRIORITIES, Priority
from dawnline.state import Stateful

UNJUDGED: Final = (State.SUPPRESSED, State.OUT_OF_SERVICE)
"""While it is so the condition is not followed."""
SCREENS: Final = (
    (State.OUT_OF_SERVICE, "out_until"),
    (State.SHELVED, "shelved_until"),
    (State.SUPPRESSED, "suppressed_until"),
)
"""What hides an alarm, and what of the memory says until when; the first of several is the state."""


class Memory(Stateful):
    """What is remembered of one alarm of one probe."""

    KEPT = (
        "timing", "state_name", "id", "ended", "since", "priority", "value", "evidence",
        "shelved_until", "shelved_priority", "suppressed_until", "out_until", "actor", "why",
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
        self.shelved_priority: Priority = "low"
        self.actor = self.why = ""  # of the last acknowledgement or shelf

    @property
    def state(self) -> State:
        """The alarm's state."""
        return State[self.state_name]

    @property
    def screen(self) -> State | None:
        """What hides the alarm, in front of all else that does; None where nothing does."""
        return next((screen for screen, until in SCREENS if getattr(self, until)), None)

    @property
    def unjudged(self) -> bool:
        """Whether the condition is not followed at present, be it behind a shelf."""
        return bool(self.out_until or self.suppressed_until)

    def restore(self, saved: dict[str, Any]) -> None:
        """As `Stateful.restore`; raises ValueError for a state or a priority that does not exist."""
        # Stores of an earlier version know neither why nor as what an alarm was shelved.
        super().restore({"shelved_priority": saved["priority"], "why": "", **saved})
        if self.state_name not in State.__members__ or not {self.priority, self.shelved_priority} <= {*PRIORITIES}:
            raise ValueError(f"saved state has an alarm that is {self.state_name!r}, of {self.priority!r} priority")
