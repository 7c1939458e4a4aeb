"""The alarm desk: takes findings and acts, keeps the memory of every alarm, says what changed and who should hear.

One memory per alarm and probe, kept only while there is something to remember. What hides an alarm (shelf,
suppression, out of service) is a screen with an end; behind a shelf the condition is followed, during suppression and
out of service it is not judged at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import tzinfo
from typing import Any, Final, TypeAlias

from dawnline.alarms import text
from dawnline.alarms.catalogue import Alarm, Catalogue
from dawnline.alarms.incident import COVERED_BY, is_covered
from dawnline.alarms.memory import Memory
from dawnline.alarms.settings import AlarmSettings
from dawnline.alarms.states import IllegalMove, Move, State, next_state
from dawnline.errors import InputError
from dawnline.event import PRIORITIES, Change, Effect, Notice, Priority, Transition
from dawnline.outlook.finding import Condition, Finding
from dawnline.state import Stateful

Key: TypeAlias = tuple[str, str | None]
"""Alarm and probe; None for the pond as a whole."""

UNJUDGED: Final = (State.SUPPRESSED, State.OUT_OF_SERVICE)
_SCREENS: Final = (
    (State.OUT_OF_SERVICE, "out_until"),
    (State.SHELVED, "shelved_until"),
    (State.SUPPRESSED, "suppressed_until"),
)
_ENDS: Final = {
    State.OUT_OF_SERVICE: Move.RESTORE,
    State.SHELVED: Move.UNSHELVE,
    State.SUPPRESSED: Move.RELEASE,
}
_TOLD: Final = ("raised", "escalated", "returned", "unshelved", "released")


class Desk(Stateful):
    """All alarms of one pond."""

    KEPT = ("next_id",)

    def __init__(
        self, catalogue: Catalogue, pond: str, zone: tzinfo, overrides: Mapping[str, AlarmSettings] | None = None
    ) -> None:
        self.catalogue = catalogue
        self.pond = pond
        self.zone = zone
        self.kinds = {name: _overridden(kind, (overrides or {}).get(name)) for name, kind in catalogue.items()}
        self.deadbands = {name: kind.deadband for name, kind in self.kinds.items()}
        self._set = {name: mine.priority for name, mine in (overrides or {}).items() if mine.priority is not None}
        self.memory: dict[Key, Memory] = {}
        self.next_id = 1
        self.changed = False  # the memory differs from what was saved last

    # ------------------------------------------------------------ memory

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
                self._get(alarm, probe).restore(data)

    def _get(self, alarm: str, probe: str | None) -> Memory:
        return self.memory.setdefault((alarm, probe), Memory())

    # ------------------------------------------------------------ findings and time

    def see(self, finding: Finding) -> list[Effect]:
        """Take one finding; gives what changed."""
        memory = self._get(finding.alarm, finding.probe)
        if memory.state in UNJUDGED:
            return []
        kind, before = self.kinds[finding.alarm], (memory.timing.met_since, memory.timing.clear_since)
        if finding.condition is Condition.MET and finding.alarm in COVERED_BY:
            finding = self._unless_covered(kind, finding)
        move = memory.timing.push(finding, kind.on_delay, kind.off_delay)
        self.changed = (
            self.changed or move is not None or before != (memory.timing.met_since, memory.timing.clear_since)
        )
        effects: list[Effect] = []
        if move is not None:
            effects = self._occur_or_return(kind, finding, memory, move)
        elif finding.condition is Condition.MET and memory.timing.active:
            effects = self._update(kind, finding, memory)
        self._drop_if_idle((finding.alarm, finding.probe), memory)
        return effects

    def tick(self, at: int) -> list[Effect]:
        """Time has passed: screens may have ended."""
        effects: list[Effect] = []
        for key, memory in list(self.memory.items()):
            for screen, until in _SCREENS:
                if 0 < getattr(memory, until) <= at:
                    setattr(memory, until, 0)
                    if memory.state is screen:
                        effects += self._uncover(key, memory, at, _ENDS[screen], "")
                    self._drop_if_idle(key, memory)
        return effects

    def _unless_covered(self, kind: Alarm, finding: Finding) -> Finding:
        """The finding, held between where another alarm has already said as much."""
        covered = is_covered(kind.name, finding.probe, self._priority(kind, finding), finding.at, self.memory)
        return finding._replace(condition=Condition.BETWEEN) if covered else finding

    def _occur_or_return(self, kind: Alarm, finding: Finding, memory: Memory, move: Move) -> list[Effect]:
        memory.value, memory.evidence = finding.value, finding.evidence
        hidden = memory.state is State.SHELVED
        self._move(memory, move)
        if move is Move.RETURN:
            if memory.ended:  # it came and went behind the shelf
                return []
            memory.ended = True
            return self._tell(kind, finding.probe, memory, "returned", finding.at, quiet=hidden)
        memory.priority = self._priority(kind, finding)
        memory.since = memory.timing.met_since if memory.timing.met_since is not None else finding.at
        return [] if hidden else self._begin(kind, finding.probe, memory, finding.at)

    def _priority(self, kind: Alarm, finding: Finding) -> Priority:
        """What the keeper set holds, whatever the finding says."""
        return self._set.get(kind.name) or finding.priority or kind.priority

    def _begin(self, kind: Alarm, probe: str | None, memory: Memory, at: int) -> list[Effect]:
        memory.id, memory.ended = self.next_id, False
        self.next_id += 1
        return self._tell(kind, probe, memory, "raised", at)

    def _update(self, kind: Alarm, finding: Finding, memory: Memory) -> list[Effect]:
        memory.value, memory.evidence = finding.value, finding.evidence
        priority = self._priority(kind, finding)
        if PRIORITIES.index(priority) <= PRIORITIES.index(memory.priority):
            return []
        memory.priority = priority
        hidden = memory.state is State.SHELVED
        self._move(memory, Move.ESCALATE)
        return [] if hidden else self._tell(kind, finding.probe, memory, "escalated", finding.at)

    # ------------------------------------------------------------ acts

    def acknowledge(self, episode: int, at: int, actor: str) -> list[Effect]:
        """Somebody has it. Raises InputError where there is no such episode, IllegalMove where it makes no sense."""
        (alarm, probe), memory = self._episode(episode)
        self._move(memory, Move.ACKNOWLEDGE)
        memory.actor = actor
        effects = self._tell(self.kinds[alarm], probe, memory, "acknowledged", at, actor=actor)
        self._drop_if_idle((alarm, probe), memory)
        return effects

    def shelve(self, episode: int, at: int, until: int, actor: str) -> list[Effect]:
        """Hide an episode until a given time. Raises as `acknowledge`."""
        (alarm, probe), memory = self._episode(episode)
        self._move(memory, Move.SHELVE)
        memory.shelved_until, memory.actor = until, actor
        return self._tell(self.kinds[alarm], probe, memory, "shelved", at, actor=actor)

    def unshelve(self, episode: int, at: int, actor: str) -> list[Effect]:
        """Show a shelved episode again. Raises as `acknowledge`."""
        key, memory = self._episode(episode)
        next_state(memory.state, Move.UNSHELVE)  # refuse before anything changes
        if not memory.shelved_until:
            raise IllegalMove(f"cannot unshelve: the alarm is {memory.state.value}, and not shelved")
        memory.shelved_until = 0
        effects = self._uncover(key, memory, at, Move.UNSHELVE, actor)
        self._drop_if_idle(key, memory)
        return effects

    def suppress(self, keys: Iterable[Key], at: int, until: int, actor: str) -> list[Effect]:
        """Suppress alarms by design until a given time; what is longer suppressed already stays so."""
        return self._cover(keys, at, until, actor, Move.SUPPRESS)

    def remove(self, keys: Iterable[Key], at: int, until: int, actor: str) -> list[Effect]:
        """Take alarms out of service until a given time."""
        return self._cover(keys, at, until, actor, Move.REMOVE)

    def give_back(self, keys: Iterable[Key], at: int, actor: str) -> list[Effect]:
        """End suppression and out of service of these alarms now."""
        effects: list[Effect] = []
        for key in keys:
            memory = self.memory.get(key)
            if memory is None:
                continue
            memory.out_until = memory.suppressed_until = 0
            if memory.state in UNJUDGED:
                effects += self._uncover(key, memory, at, _ENDS[memory.state], actor)
            self._drop_if_idle(key, memory)
        return effects

    def active(self) -> list[tuple[str, str | None, Memory]]:
        """Every alarm that is anything but normal, the most urgent first."""
        rows = [(a, p, m) for (a, p), m in self.memory.items() if m.state is not State.NORMAL]
        return sorted(rows, key=lambda row: (-PRIORITIES.index(row[2].priority), row[2].since))

    # ------------------------------------------------------------ inside

    def _episode(self, episode: int) -> tuple[Key, Memory]:
        for key, memory in self.memory.items():
            if memory.id == episode:
                return key, memory
        raise InputError(f"there is no open alarm {episode}; `dawnline alarms list` shows those there are")

    def _cover(self, keys: Iterable[Key], at: int, until: int, actor: str, move: Move) -> list[Effect]:
        effects, timer = [], "out_until" if move is Move.REMOVE else "suppressed_until"
        for key in keys:
            memory = self._get(*key)
            before = memory.state
            self._move(memory, move)
            setattr(memory, timer, max(getattr(memory, timer), until))
            if memory.id is not None and not memory.ended and before not in UNJUDGED and memory.state in UNJUDGED:
                effects += self._tell(self.kinds[key[0]], key[1], memory, "suppressed", at, actor=actor)
        return effects

    def _uncover(self, key: Key, memory: Memory, at: int, move: Move, actor: str) -> list[Effect]:
        """Lift a screen: tell so of an episode, and raise what began behind it."""
        self._move(memory, move)
        if memory.state in (State.NORMAL, State.UNACKNOWLEDGED) and move is not Move.UNSHELVE:
            memory.timing.forget()
        kind, effects = self.kinds[key[0]], []
        change: Change = "unshelved" if move is Move.UNSHELVE else "released"
        if memory.id is not None and (move is Move.UNSHELVE or not memory.ended):
            quiet = memory.ended or memory.state is not State.UNACKNOWLEDGED
            effects += self._tell(kind, key[1], memory, change, at, actor=actor, quiet=quiet)
        if memory.ended and memory.state is State.UNACKNOWLEDGED:
            effects += self._begin(kind, key[1], memory, at)
        return effects

    def _move(self, memory: Memory, move: Move) -> None:
        state = next_state(memory.state, move)
        if state is State.BY_CONDITION:
            screens = [s for s, until in _SCREENS if getattr(memory, until)]
            shown = State.UNACKNOWLEDGED if memory.timing.active else State.NORMAL
            state = screens[0] if screens else shown
        memory.state_name = state.name
        self.changed = True

    def _drop_if_idle(self, key: Key, memory: Memory) -> None:
        if memory.state is State.NORMAL and memory.timing.idle:
            self.memory.pop(key, None)

    def _tell(
        self,
        kind: Alarm,
        probe: str | None,
        memory: Memory,
        change: Change,
        at: int,
        *,
        actor: str = "",
        quiet: bool = False,
    ) -> list[Effect]:
        assert memory.id is not None
        transition = Transition(
            memory.id,
            at,
            memory.since,
            kind.name,
            change,
            memory.priority,
            probe,
            memory.value,
            memory.evidence,
            actor,
        )
        if quiet or change not in _TOLD:
            return [transition]
        key = f"{kind.name}/{probe or 'pond'}/{memory.id}/{change}/{at}"
        subject, body = (
            text.subject(self.catalogue, transition, self.pond),
            text.body(self.catalogue, transition, self.zone),
        )
        return [transition, Notice(key, at, memory.id, kind.name, change, memory.priority, subject, body)]


def _overridden(kind: Alarm, settings: AlarmSettings | None) -> Alarm:
    """The catalogue's alarm with the keeper's changes."""
    if settings is None:
        return kind
    mine = {key: getattr(settings, key) for key in ("priority", "on_delay", "off_delay", "deadband")}
    return replace(kind, **{key: value for key, value in mine.items() if value is not None})
