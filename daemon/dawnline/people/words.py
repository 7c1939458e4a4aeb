"""What a message says: the gravest alarm in full, what else stands, how it came about, how to answer.

Every message of an incident says the whole of it, so that one that was never delivered is missed by nobody.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Final

from dawnline.alarms import text
from dawnline.alarms.desk import Desk
from dawnline.alarms.memory import Memory
from dawnline.event import Transition, Why
from dawnline.people.card import card
from dawnline.people.incident import WATCH, WATER, Contact, Incident, Item
from dawnline.people.person import RANK, Person

_GRAVITY: Final = {alarm: number for number, alarm in enumerate((*WATCH, *WATER))}
_CHANGES: Final[dict[str, str]] = {
    "raised": "raised",
    "escalated": "more urgent",
    "returned": "over",
    "acknowledged": "acknowledged",
    "shelved": "shelved",
    "unshelved": "no longer shelved",
    "suppressed": "suppressed",
    "released": "no longer suppressed",
}
_REASONS: Final[dict[str, str]] = {
    "again": "It was over, and is back.",
    "update": "For your information; nothing new is asked of you.",
    "morning": "This has waited for the morning, since it woke nobody.",
}


@dataclass(frozen=True, slots=True)
class Standing:
    """An alarm of an incident that stands and is shown, with what the desk knows of it now."""

    item: Item
    memory: Memory
    acknowledged: bool

    @property
    def rank(self) -> int:
        """0 for low, 2 for high."""
        return RANK[self.memory.priority]


@dataclass(frozen=True, slots=True)
class Occasion:
    """A message about to be written: of which incident, with what `standing`, to whom, why, and when [ms]."""

    incident: Incident
    standing: Sequence[Standing]
    person: Person
    contact: Contact
    why: Why
    at: int

    @property
    def new(self) -> list[Standing]:
        """What stands and was not told to this person yet."""
        return [each for each in self.standing if each.item.news > self.contact.seen]


@dataclass(frozen=True, slots=True)
class Words:
    """Puts messages into words. `people` are all there are, for names and telephone numbers."""

    desk: Desk
    pond: str
    zone: tzinfo
    people: Sequence[Person]

    def subject(self, on: Occasion) -> str:
        """One line for a lock screen."""
        if not on.standing:
            last = self._last(on.incident)
            return text.subject(self.desk.catalogue, self._over(last), self.pond)
        told = gravest(on.standing)
        line = text.subject(self.desk.catalogue, self._now(told), self.pond)
        if len(on.standing) > 1:
            line += f" and {len(on.standing) - 1} more"
        marks = {
            "repeat": f"reminder {on.contact.repeats + 1}",
            "unanswered": "nobody has answered",
            "unreachable": "nobody else can be reached",
            "update": "update",
            "again": "again",
        }
        return f"{line}, {marks[on.why]}" if on.why in marks else line

    def text(self, on: Occasion) -> str:
        """The whole text."""
        parts = [self._why(on)]
        if not on.standing:
            last = self._last(on.incident)
            parts.append(text.body(self.desk.catalogue, self._over(last), self.zone))
        else:
            told = gravest(on.standing)
            parts.append(self.in_full(told, on.person))
            others = [each for each in on.standing if each is not told]
            if others:
                parts.append("\n".join(["Also:", *(f"  {self.line(each)}" for each in others)]))
            waiting = asks(on.standing)
            if len(waiting) > 1 and not on.person.card:
                parts.append(f"To say you have all of this: dawnline alarms acknowledge {' '.join(map(str, waiting))}")
        if len(on.incident.course) > 1:
            parts.append("\n".join(["How it came about:", *(f"  {line}" for line in self.course(on.incident))]))
        return "\n\n".join(part for part in parts if part)

    def course(self, incident: Incident) -> list[str]:
        """What has happened so far, a line each."""
        return [
            f"{self.clock(at)}  {self.desk.kinds[alarm].title}{f' ({probe})' if probe else ''}: "
            f"{_CHANGES.get(change, change)}{f' by {actor}' if actor else ''}"
            for at, alarm, probe, change, actor in incident.course
        ]

    def clock(self, at: int) -> str:
        """A time for people, in the pond's zone."""
        return f"{datetime.fromtimestamp(at / 1000, self.zone):%a %d %b %H:%M}"

    def title(self, incident: Incident) -> str:
        """What the incident is called: the gravest of its alarms."""
        return self.desk.kinds[self._last(incident).alarm].title

    def in_full(self, told: Standing, person: Person) -> str:
        """One alarm with all there is to say of it, or with the plain card."""
        if person.card:
            return self._for_a_neighbour(told, person)
        return text.body(self.desk.catalogue, self._now(told), self.zone)

    def line(self, each: Standing) -> str:
        """One alarm in a line."""
        kind, memory = self.desk.kinds[each.item.alarm], each.memory
        state = "acknowledged" if each.acknowledged else f"alarm {each.item.episode}"
        probe = f" ({each.item.probe})" if each.item.probe else ""
        return f"{kind.title}{probe}: {memory.evidence}; {memory.priority}, since {self.clock(memory.since)}, {state}"

    # ------------------------------------------------------------ inside

    def _why(self, on: Occasion) -> str:
        """Why this person gets it now; nothing where that goes without saying."""
        if on.why == "repeat":
            said = self.clock(on.contact.first_at)
            return f"Reminder {on.contact.repeats + 1}: nobody has acknowledged this yet; it was first said {said}."
        if on.why == "unanswered":
            return f"{self._before(on)} asked first, and nobody has acknowledged in time. Now it is you."
        if on.why == "unreachable":
            return f"{self._before(on)} asked first, and no message gets through there. Now it is you."
        if on.why == "raised" and on.contact.count:
            return f"This goes on from the message of {self.clock(on.contact.last_at)}."
        return _REASONS.get(on.why, "")

    def _before(self, on: Occasion) -> str:
        names = [each.name for each in self.people if each.order < on.person.order and each.on_duty(on.at)]
        return f"{' and '.join(names) or 'Others'} {'were' if len(names) > 1 else 'was'}"

    def _for_a_neighbour(self, told: Standing, person: Person) -> str:
        kind = self.desk.kinds[told.item.alarm]
        head = f"{kind.title}: {told.memory.evidence}.\nSince {self.clock(told.memory.since)}."
        if told.item.alarm in WATCH:
            head += "\nThis is a fault of the watch; the pond itself may be well. Have a look all the same."
        return "\n".join([head, "", *card(person, self.people)])

    def _now(self, told: Standing) -> Transition:
        """The alarm as it is now, as the transition that told it."""
        item, memory = told.item, told.memory
        return Transition(
            item.episode, item.at, memory.since, item.alarm, item.change, memory.priority, item.probe, memory.value,
            memory.evidence,
        )  # fmt: skip

    def _last(self, incident: Incident) -> Item:
        """The gravest of those that are over."""
        return max(incident.items.values(), key=lambda i: (RANK[i.priority], _GRAVITY.get(i.alarm, 0), i.ended_at))

    def _over(self, item: Item) -> Transition:
        at = item.ended_at or item.at
        return Transition(
            item.episode, at, item.since, item.alarm, "returned", item.priority, item.probe, item.value, item.text
        )


def gravest(standing: Sequence[Standing]) -> Standing:
    """The alarm that a message is about: one that nobody has acknowledged, the most urgent, the gravest of its kind."""
    return max(standing, key=lambda s: (not s.acknowledged, s.rank, _GRAVITY.get(s.item.alarm, 0), s.item.at))


def asks(standing: Sequence[Standing]) -> tuple[int, ...]:
    """The episodes that wait to be acknowledged."""
    return tuple(sorted(each.item.episode for each in standing if not each.acknowledged))
