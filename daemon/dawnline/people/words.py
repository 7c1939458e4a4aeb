"""What a message says: the gravest alarm in full, what else stands, how it came about, how to answer.

Every message of an incident says the whole of it, so that one that was never delivered is missed by nobody.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import Final

from dawnline.alarms import text
from dawnline.alarms.desk import Desk
from dawnline.alarms.memory import Memory
from dawnline.event import Transition, Why
from dawnline.people.card import card
from dawnline.people.incident import WATCH, WATER, Contact, Incident, Item
from dawnline.people.person import RANK, Person

_GRAVITY: Final = {alarm: number for number, alarm in enumerate((*WATCH, *WATER))}
_MARKED: Final = ("repeat", "unanswered", "unreachable", "update", "again")  # in the subject
_SAID: Final = ("again", "update", "morning")  # as a sentence with nothing to fill in


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
            line = self.say("more", line=line, count=len(on.standing) - 1)
        if on.why == "repeat":
            return self.say("mark_repeat", line=line, number=on.contact.repeats + 1)
        return self.say(f"mark_{on.why}", line=line) if on.why in _MARKED else line

    def text(self, on: Occasion) -> str:
        """The whole text."""
        parts = [self._why(on)]
        if not on.standing:
            last = self._last(on.incident)
            whole = text.body(self.desk.catalogue, self._over(last), self.zone)
            parts.append(self.say("card_over", title=self.desk.kinds[last.alarm].title) if on.person.card else whole)
        else:
            told = gravest(on.standing)
            parts.append(self.in_full(told, on.person, on.at))
            others = [each for each in on.standing if each is not told]
            if others:
                parts.append("\n".join([self.say("also"), *(f"  {self.line(each)}" for each in others)]))
            waiting = asks(on.standing)
            if len(waiting) > 1 and not on.person.card:
                parts.append(self.say("acknowledge_all", ids=" ".join(map(str, waiting))))
        if len(on.incident.course) > 1:
            parts.append("\n".join([self.say("course"), *(f"  {line}" for line in self.course(on.incident))]))
        return "\n\n".join(part for part in parts if part)

    def course(self, incident: Incident) -> list[str]:
        """What has happened so far, a line each."""
        lines = []
        for at, alarm, probe, change, actor in incident.course:
            filled = {"at": self.clock(at), "what": self._what(alarm, probe), "change": self.say(f"did_{change}")}
            lines.append(self.say("course_by", actor=actor, **filled) if actor else self.say("course_line", **filled))
        return lines

    def clock(self, at: int) -> str:
        """A time for people, in the pond's zone."""
        return text.clock(self.desk.catalogue, at, self.zone)

    def title(self, on: Occasion) -> str:
        """What the incident is called: the gravest of its alarms, of those that stand where some do."""
        if on.standing:
            return self.desk.kinds[gravest(on.standing).item.alarm].title
        return self.say("morning_over", title=self.desk.kinds[self._last(on.incident).alarm].title)

    def in_full(self, told: Standing, person: Person, at: int) -> str:
        """One alarm with all there is to say of it at `at` [ms], or with the plain card."""
        if person.card:
            return self._for_a_neighbour(told, person, at)
        return text.body(self.desk.catalogue, self._now(told), self.zone)

    def line(self, each: Standing) -> str:
        """One alarm in a line."""
        memory, episode = each.memory, each.item.episode
        return self.say(
            "standing",
            what=self._what(each.item.alarm, each.item.probe),
            evidence=memory.evidence,
            priority=self.say(memory.priority),
            since=self.clock(memory.since),
            state=self.say("state_acknowledged") if each.acknowledged else self.say("state_open", id=episode),
        )

    # ------------------------------------------------------------ inside

    def say(self, word: str, **filled: object) -> str:
        """One of the catalogue's words, with what is filled in."""
        return self.desk.catalogue.words[word].format(**filled)

    def _what(self, alarm: str, probe: str | None) -> str:
        return self.desk.kinds[alarm].title + (f" ({probe})" if probe else "")

    def _why(self, on: Occasion) -> str:
        """Why this person gets it now; nothing where that goes without saying."""
        if on.why == "repeat":
            return self.say("why_repeat", number=on.contact.repeats + 1, since=self.clock(on.contact.first_at))
        if on.why in ("unanswered", "unreachable"):
            names = [each.name for each in self.people if each.order < on.person.order and each.on_duty(on.at)]
            return self.say(f"why_{on.why}", names=", ".join(names))
        if on.why == "raised" and on.contact.count:
            return self.say("why_raised", since=self.clock(on.contact.last_at))
        return self.say(f"why_{on.why}") if on.why in _SAID else ""

    def _for_a_neighbour(self, told: Standing, person: Person, at: int) -> str:
        title, memory = self.desk.kinds[told.item.alarm].title, told.memory
        fact = self.say("card_fact", title=title, evidence=memory.evidence, since=self.clock(memory.since))
        head = [fact, self.say("card_watch")] if told.item.alarm in WATCH else [fact]
        return "\n".join([*head, "", *card(self.desk.catalogue.words, person, self.people, at)])

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
