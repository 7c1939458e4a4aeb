"""The ledger of the alarms: what is remembered of each, every move of one, and what is told of it.

One memory per alarm and probe, kept only while there is something to remember. The desk decides; here it is written.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import tzinfo
from typing import Any, Final, NamedTuple, TypeAlias

from dawnline.alarms.catalogue import Alarm, Catalogue
from dawnline.alarms.episodes import DOUBTED
from dawnline.alarms.memory import Memory
from dawnline.alarms.settings import AlarmSettings
from dawnline.alarms.states import Move, State, next_state
from dawnline.errors import InputError
from dawnline.event import PRIORITIES, Change, Effect, Moved, Notice, Transition
from dawnline.state import Stateful

Key: TypeAlias = tuple[str, str | None]
"""Alarm and probe; None for the pond as a whole."""

_TOLD: Final = ("raised", "escalated", "returned", "unshelved", "released")


class Occasion(NamedTuple):
    """When a move is made, by whom ("" for dawnline itself), and why."""

    at: int
    actor: str = ""
    reason: str = ""


class Ledger(Stateful):
    """What is remembered of all alarms of one pond."""

    KEPT = ("next_id",)

    def __init__(
        self, catalogue: Catalogue, zone: tzinfo, overrides: Mapping[str, AlarmSettings] | None = None
    ) -> None:
        self.catalogue = catalogue
        self.zone = zone
        self.kinds = {name: overridden(kind, (overrides or {}).get(name)) for name, kind in catalogue.items()}
        self.memory: dict[Key, Memory] = {}
        self.next_id = 1
        self.changed = False  # the memory differs from what was saved last

    def save(self) -> dict[str, Any]:
        """As `Stateful.save`, with the memories."""
        memories = [[*key, memory.save()] for key, memory in self.memory.items()]
        return {**super().save(), "memory": memories}

    def restore(self, saved: dict[str, Any]) -> None:
        """As `Stateful.restore`; an alarm that no longer exists is dropped."""
        super().restore(saved)
        self.memory = {}
        for alarm, probe, data in saved["memory"]:
            if alarm in self.kinds:
                self.get((alarm, probe)).restore(data)

    def get(self, key: Key) -> Memory:
        """What is remembered of this alarm, an empty memory where that is nothing."""
        return self.memory.setdefault(key, Memory())

    def episode(self, number: int) -> tuple[Key, Memory]:
        """The alarm whose episode has this number. Raises InputError where none that is open has it."""
        for key, memory in self.memory.items():
            if memory.id == number:
                return key, memory
        raise InputError(f"there is no open alarm {number}; `dawnline alarms list` shows those there are")

    def evidence(self, alarm: str, probe: str | None) -> str | None:
        """What an alarm that stands says at present, told or shelved; None where it does not, or is not followed."""
        memory = self.memory.get((alarm, probe))
        return None if memory is None or memory.ended or memory.unjudged else memory.evidence

    def doubt(self, probe: str) -> str | None:
        """Why a probe is doubted at present: whatever it says is then not to be trusted. None where it is not."""
        return self.evidence(DOUBTED, probe)

    def active(self) -> list[tuple[str, str | None, Memory]]:
        """Every alarm that is anything but normal, the most urgent first."""
        rows = [(a, p, m) for (a, p), m in self.memory.items() if m.state is not State.NORMAL]
        return sorted(rows, key=lambda row: (-PRIORITIES.index(row[2].priority), row[2].since))

    def move(self, key: Key, memory: Memory, move: Move, occasion: Occasion, effects: list[Effect]) -> None:
        """Move an alarm and journal it. An alarm that becomes unacknowledged while no episode runs begins one.

        Raises IllegalMove, with nothing changed, where the table has no such move.
        """
        before, after = memory.state, next_state(memory.state, move)
        if after is State.BY_CONDITION:
            after = memory.screen or (State.UNACKNOWLEDGED if memory.timing.active else State.NORMAL)
        memory.state_name = after.name
        if after is State.UNACKNOWLEDGED and memory.ended:
            memory.id, memory.ended = self.next_id, False
            self.next_id += 1
        self.changed = True
        episode = None if memory.ended and before is not State.RETURNED else memory.id
        at, actor, reason = occasion
        priority = self.kinds[key[0]].priority if memory.id is None else memory.priority
        effects.append(
            Moved(at, key[0], key[1], episode, move.value, before.value, after.value, priority, actor, reason)
        )

    def drop_if_idle(self, key: Key, memory: Memory) -> None:
        """Forget an alarm of which nothing needs to be remembered."""
        if memory.state is State.NORMAL and memory.timing.idle:
            self.memory.pop(key, None)

    def tell(
        self, key: Key, memory: Memory, change: Change, occasion: Occasion, effects: list[Effect], *,
        quiet: bool = False, episode: int | None = None,
    ) -> None:  # fmt: skip
        """Say what has changed of an episode (of the running one, if no other is named), to people unless `quiet`."""
        number, at, actor = memory.id if episode is None else episode, occasion.at, occasion.actor
        assert number is not None
        transition = Transition(
            number, at, memory.since, key[0], change, memory.priority, key[1], memory.value, memory.evidence, actor
        )
        effects.append(transition)
        if quiet or change not in _TOLD:
            return
        effects.append(Notice(at, number, key[0], change, memory.priority))


def overridden(kind: Alarm, settings: AlarmSettings | None) -> Alarm:
    """The catalogue's alarm with the keeper's changes."""
    if settings is None:
        return kind
    mine = {key: getattr(settings, key) for key in ("priority", "on_delay", "off_delay", "deadband")}
    return replace(kind, **{key: value for key, value in mine.items() if value is not None})
