"""The alarm desk: takes findings and acts and decides what becomes of each alarm; `ledger` writes it down.

What hides an alarm (shelf, suppression, out of service) is a screen with an end. Behind a shelf the condition is
followed, and an alarm that becomes more urgent than when it was shelved comes out by itself; during suppression and out
of service it is not judged at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import tzinfo
from typing import Final

from dawnline.alarms.catalogue import Alarm, Catalogue
from dawnline.alarms.covered import COVERED_BY, is_covered
from dawnline.alarms.ledger import Key, Ledger, Occasion
from dawnline.alarms.memory import SCREENS, UNJUDGED, Memory
from dawnline.alarms.settings import AlarmSettings
from dawnline.alarms.states import IllegalMove, Move, State, next_state
from dawnline.duration import DAY_MS, show_duration
from dawnline.errors import InputError
from dawnline.event import PRIORITIES, Change, Effect, Priority
from dawnline.outlook.finding import Condition, Finding

LONGEST_SHELF_MS: Final[Mapping[Priority, int]] = {"low": 7 * DAY_MS, "medium": 7 * DAY_MS, "high": DAY_MS}
"""How long an alarm may be shelved at most. Our own choice: the standards ask for a limit and name none."""

_ENDS: Final = {
    State.OUT_OF_SERVICE: Move.RESTORE,
    State.SHELVED: Move.UNSHELVE,
    State.SUPPRESSED: Move.RELEASE,
}
_TIME_OVER: Final = "its time is over"
_GONE: Final = "this probe is no longer in the configuration, and nobody watches what it watched"
_MORE_URGENT: Final = "more urgent than when it was shelved"


class Desk(Ledger):
    """All alarms of one pond."""

    def __init__(
        self, catalogue: Catalogue, zone: tzinfo, overrides: Mapping[str, AlarmSettings] | None = None
    ) -> None:
        super().__init__(catalogue, zone, overrides)
        self.deadbands = {name: kind.deadband for name, kind in self.kinds.items()}
        self._set = {name: mine.priority for name, mine in (overrides or {}).items() if mine.priority is not None}

    # ------------------------------------------------------------ findings and time

    def see(self, finding: Finding) -> list[Effect]:
        """Take one finding; gives what changed."""
        key = (finding.alarm, finding.probe)
        memory, effects = self.get(key), list[Effect]()
        if memory.unjudged:
            return effects
        seen, kind, before = finding, self.kinds[finding.alarm], (memory.timing.met_since, memory.timing.clear_since)
        if finding.condition is Condition.MET and finding.alarm in COVERED_BY:
            finding = self._unless_covered(kind, finding)
        move = memory.timing.push(finding, kind.on_delay, kind.off_delay)
        self.changed = self.changed or before != (memory.timing.met_since, memory.timing.clear_since)
        if move is Move.OCCUR:
            self._occur(key, memory, finding, effects)
        elif move is Move.RETURN:
            self._return(key, memory, finding, effects)
        elif finding.condition is Condition.MET and memory.timing.active:
            self._update(key, memory, finding, effects)
        elif seen.condition is Condition.MET and memory.timing.active:  # covered: nobody is told, but it goes on
            memory.value, memory.evidence = seen.value, seen.evidence
        self.drop_if_idle(key, memory)
        return effects

    def tick(self, at: int) -> list[Effect]:
        """Time has passed: screens may have ended."""
        effects: list[Effect] = []
        for key, memory in list(self.memory.items()):
            for screen, until in reversed(SCREENS):
                if 0 < getattr(memory, until) <= at:
                    setattr(memory, until, 0)
                    self._end(key, memory, screen, Occasion(at, reason=_TIME_OVER), effects)
                    self.drop_if_idle(key, memory)
        return effects

    def _unless_covered(self, kind: Alarm, finding: Finding) -> Finding:
        """The finding, held between where another alarm has already said as much."""
        covered = is_covered(kind.name, finding.probe, self._priority(finding), finding.at, self.memory)
        return finding._replace(condition=Condition.BETWEEN) if covered else finding

    def _priority(self, finding: Finding) -> Priority:
        """What the keeper set holds, whatever the finding says."""
        return self._set.get(finding.alarm) or finding.priority or self.kinds[finding.alarm].priority

    def _occur(self, key: Key, memory: Memory, finding: Finding, effects: list[Effect]) -> None:
        memory.value, memory.evidence, memory.priority = finding.value, finding.evidence, self._priority(finding)
        memory.since = memory.timing.met_since if memory.timing.met_since is not None else finding.at
        self.move(key, memory, Move.OCCUR, Occasion(finding.at, reason=finding.evidence), effects)
        if memory.state is State.SHELVED:
            self._leave_the_shelf_if_more_urgent(key, memory, finding.at, effects)
        else:
            self.tell(key, memory, "raised", Occasion(finding.at), effects)

    def _return(self, key: Key, memory: Memory, finding: Finding, effects: list[Effect]) -> None:
        memory.value, memory.evidence = finding.value, finding.evidence
        self.move(key, memory, Move.RETURN, Occasion(finding.at, reason=finding.evidence), effects)
        if not memory.ended:  # else it came and went behind the shelf
            memory.ended = True
            self.tell(key, memory, "returned", Occasion(finding.at), effects, quiet=memory.state is State.SHELVED)

    def _update(self, key: Key, memory: Memory, finding: Finding, effects: list[Effect]) -> None:
        memory.value, memory.evidence = finding.value, finding.evidence
        priority = self._priority(finding)
        if PRIORITIES.index(priority) <= PRIORITIES.index(memory.priority):
            return
        memory.priority = priority
        self.move(key, memory, Move.ESCALATE, Occasion(finding.at, reason=finding.evidence), effects)
        if memory.state is State.SHELVED:
            self._leave_the_shelf_if_more_urgent(key, memory, finding.at, effects)
        if memory.state is State.UNACKNOWLEDGED:
            self.tell(key, memory, "escalated", Occasion(finding.at), effects)

    def _leave_the_shelf_if_more_urgent(self, key: Key, memory: Memory, at: int, effects: list[Effect]) -> None:
        """What was put away as low is not put away as high."""
        if PRIORITIES.index(memory.priority) > PRIORITIES.index(memory.shelved_priority):
            memory.shelved_until = 0
            self._uncover(key, memory, Move.UNSHELVE, Occasion(at, reason=_MORE_URGENT), effects, quiet=True)

    # ------------------------------------------------------------ acts

    def acknowledge(self, episode: int, at: int, actor: str, why: str = "") -> list[Effect]:
        """Somebody has it. Raises InputError where there is no such episode, IllegalMove where it makes no sense."""
        (key, memory), occasion = self.episode(episode), Occasion(at, actor, why)
        effects: list[Effect] = []
        self.move(key, memory, Move.ACKNOWLEDGE, occasion, effects)
        memory.actor, memory.why = actor, why
        self.tell(key, memory, "acknowledged", occasion, effects)
        self.drop_if_idle(key, memory)
        return effects

    def shelve(self, episode: int, at: int, until: int, actor: str, why: str = "") -> list[Effect]:
        """Hide an episode until a given time. Raises as `acknowledge`, and InputError for longer than is allowed."""
        key, memory = self.episode(episode)
        next_state(memory.state, Move.SHELVE)  # refuse before anything changes
        longest = LONGEST_SHELF_MS[memory.priority]
        if until - at > longest:
            most = f"an alarm of {memory.priority} priority can be shelved for {show_duration(longest)} at most"
            raise InputError(f"cannot shelve for {show_duration(until - at)}: {most}")
        effects, occasion = list[Effect](), Occasion(at, actor, why)
        memory.shelved_until, memory.shelved_priority = until, memory.priority
        self.move(key, memory, Move.SHELVE, occasion, effects)
        memory.actor, memory.why = actor, why
        self.tell(key, memory, "shelved", occasion, effects)
        return effects

    def unshelve(self, episode: int, at: int, actor: str) -> list[Effect]:
        """Show a shelved episode again. Raises as `acknowledge`."""
        key, memory = self.episode(episode)
        next_state(memory.state, Move.UNSHELVE)  # refuse before anything changes
        if not memory.shelved_until:
            raise IllegalMove(f"cannot unshelve: the alarm is {memory.state.value}, and not shelved")
        effects: list[Effect] = []
        memory.shelved_until = 0
        self._uncover(key, memory, Move.UNSHELVE, Occasion(at, actor), effects)
        self.drop_if_idle(key, memory)
        return effects

    def suppress(self, keys: Iterable[Key], at: int, until: int, actor: str, why: str = "") -> list[Effect]:
        """Suppress alarms by design until a given time; what is longer suppressed already stays so."""
        return self._cover(keys, until, Move.SUPPRESS, Occasion(at, actor, why))

    def remove(self, keys: Iterable[Key], at: int, until: int, actor: str, why: str = "") -> list[Effect]:
        """Take alarms out of service until a given time."""
        return self._cover(keys, until, Move.REMOVE, Occasion(at, actor, why))

    def give_back(self, keys: Iterable[Key], at: int, actor: str, why: str = "") -> list[Effect]:
        """End suppression and out of service of these alarms now."""
        effects: list[Effect] = []
        for key in keys:
            memory = self.memory.get(key)
            if memory is None:
                continue
            for screen, until in reversed(SCREENS):
                if screen in UNJUDGED and getattr(memory, until):
                    setattr(memory, until, 0)
                    self._end(key, memory, screen, Occasion(at, actor, why), effects)
            self.drop_if_idle(key, memory)
        return effects

    def retire(self, keys: Iterable[Key], at: int) -> list[Effect]:
        """End and forget alarms of probes that there are no longer: they could never return."""
        effects: list[Effect] = []
        for key in keys:
            memory = self.memory.pop(key)
            self.move(key, memory, Move.REMOVE, Occasion(at, reason=_GONE), effects)
            if not memory.ended:
                memory.ended, memory.evidence = True, _GONE
                self.tell(key, memory, "returned", Occasion(at), effects)
        return effects

    # ------------------------------------------------------------ screens

    def _cover(self, keys: Iterable[Key], until: int, move: Move, occasion: Occasion) -> list[Effect]:
        effects: list[Effect] = []
        timer = "out_until" if move is Move.REMOVE else "suppressed_until"
        for key in keys:
            memory = self.get(key)
            seen = not memory.ended and memory.state not in UNJUDGED
            self.move(key, memory, move, occasion, effects)
            setattr(memory, timer, max(getattr(memory, timer), until))
            if seen and memory.state in UNJUDGED:
                self.tell(key, memory, "suppressed", occasion, effects)
        return effects

    def _end(self, key: Key, memory: Memory, screen: State, occasion: Occasion, effects: list[Effect]) -> None:
        """A screen has ended: the alarm is seen again, unless another one hides it still."""
        if memory.state is screen:
            self._uncover(key, memory, _ENDS[screen], occasion, effects)
            return
        self.move(key, memory, _ENDS[screen], occasion, effects)
        if screen in UNJUDGED and not memory.unjudged:
            memory.timing.forget()

    def _uncover(
        self, key: Key, memory: Memory, move: Move, occasion: Occasion, effects: list[Effect], *, quiet: bool = False
    ) -> None:
        """Lift the screen in front: tell so of an episode, to people unless `quiet`; raise what began behind it."""
        episode, ended = memory.id, memory.ended
        self.move(key, memory, move, occasion, effects)
        if move is not Move.UNSHELVE and not memory.unjudged:
            memory.timing.forget()
        change: Change = "unshelved" if move is Move.UNSHELVE else "released"
        seen = memory.state is State.UNACKNOWLEDGED
        if episode is not None and (move is Move.UNSHELVE or not ended):
            self.tell(key, memory, change, occasion, effects, quiet=quiet or ended or not seen, episode=episode)
        if ended and seen:
            self.tell(key, memory, "raised", Occasion(occasion.at), effects)
