"""When to ask whom on a bus: each in its interval, one that does not answer ever more rarely.

Machine time, in seconds, given by the caller.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Final, Generic, TypeVar

LONGEST_PAUSE_S: Final = 60.0  # a device that is back is heard within a minute

Asked = TypeVar("Asked")


@dataclass(slots=True)
class Turn(Generic[Asked]):
    """One that is asked every `interval_s`. Those of one `group` are one device: silent together."""

    what: Asked
    interval_s: float
    group: Hashable
    due_s: float = 0.0


class Timetable(Generic[Asked]):
    """Who is next. A silent group waits its interval, then twice that, up to a minute or its interval."""

    def __init__(self, turns: Sequence[Turn[Asked]]) -> None:
        self._turns = list(turns)
        self._silences: dict[Hashable, int] = {}

    def next(self) -> Turn[Asked]:
        """The turn that is due first; `due_s` says when."""
        return min(self._turns, key=lambda turn: turn.due_s)

    def restart(self) -> None:
        """All are due at once, and no silence is remembered."""
        self._silences.clear()
        for turn in self._turns:
            turn.due_s = 0.0

    def answered(self, turn: Turn[Asked], now_s: float) -> None:
        """It said something: again in its interval, on the beat unless that was lost."""
        self._silences.pop(turn.group, None)
        on_beat = turn.due_s + turn.interval_s
        turn.due_s = on_beat if on_beat > now_s else now_s + turn.interval_s

    def silent(self, turn: Turn[Asked], now_s: float) -> None:
        """It said nothing: neither it nor the others of its device are asked for a while."""
        times = self._silences[turn.group] = min(self._silences.get(turn.group, 0) + 1, 32)
        for other in self._turns:
            if other.group == turn.group:
                pause_s = min(other.interval_s * 2 ** (times - 1), max(LONGEST_PAUSE_S, other.interval_s))
                other.due_s = now_s + pause_s
