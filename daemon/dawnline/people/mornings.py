"""What has waited for the morning, as one message; the word of every morning; the handing over of the pond."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import tzinfo
from typing import Any, Final

from dawnline.duration import EVER_MS, HOUR_MS
from dawnline.event import PRIORITIES, Message
from dawnline.people.card import card
from dawnline.people.incident import Incident
from dawnline.people.person import Person
from dawnline.people.rules import plan_repeat
from dawnline.people.words import Occasion, Standing, Words, asks, gravest

MORNING: Final = -1  # in place of an incident's number: a newer one takes the place of one not delivered
HANDOVER: Final = -2
LATE_MS: Final = HOUR_MS  # from then on a word of the morning rests with whoever does

Incidents = Sequence[tuple[Incident, list[Standing]]]


class Mornings:
    """When each person's next morning word is due, and who has been given the pond."""

    def __init__(self, people: Sequence[Person], zone: tzinfo, words: Words, night: Callable[[int], str]) -> None:
        self.people = people
        self.zone = zone
        self.words = words
        self.night = night
        self.next: dict[str, int] = {}  # by person, ms
        self.handed: list[str] = []  # who, and the beginning of their days
        self.sent: dict[str, int] = {}  # messages since the last morning, by person
        self.next_at = 0  # nothing is due before

    def save(self) -> dict[str, Any]:
        """The memory as plain JSON values."""
        return {"next": dict(self.next), "handed": list(self.handed), "sent": dict(self.sent)}

    def restore(self, saved: dict[str, Any]) -> None:
        """Take back what `save` gave. Raises KeyError, TypeError or ValueError for another shape."""
        self.next = {str(name): int(at) for name, at in saved["next"].items()}
        self.handed = [str(each) for each in saved["handed"]]
        self.sent = {str(name): int(count) for name, count in saved["sent"].items()}
        self.next_at = 0

    def forget(self) -> None:
        """The time of day was not known: the next mornings are reckoned anew."""
        self.next, self.next_at = {}, 0

    def expect(self, at: int) -> None:
        """Something is held until `at` [ms]."""
        self.next_at = min(self.next_at, at)

    def count(self, person: Person) -> None:
        """A message has gone to this person."""
        if person.morning is not None:
            self.sent[person.name] = self.sent.get(person.name, 0) + 1

    def due(self, at: int, incidents: Incidents) -> list[Message]:
        """The messages due at `at` [ms]."""
        if at < self.next_at:
            return []
        messages: list[Message] = []
        for person in self.people:
            if person.on_duty(at):
                messages += self._handed(person, at, incidents)
                messages += self._morning(person, at, incidents)
        self.next_at = self._next_at(at, incidents)
        return messages

    def _next_at(self, at: int, incidents: Incidents) -> int:
        moments = [when for when in self.next.values() if when > at]
        moments += [c.held_until for incident, _ in incidents for c in incident.contacts.values() if c.held_until > at]
        for person in self.people:
            moments += [edge for edge in (person.begins, person.ends) if edge is not None and edge > at]
            if person.on_duty(at) and person.begins is not None and _mark(person) not in self.handed:
                moments.append(person.next_morning(at, self.zone))  # they rest
        return min(moments, default=EVER_MS)

    # ------------------------------------------------------------ handing over

    def _handed(self, person: Person, at: int, incidents: Incidents) -> list[Message]:
        """Whoever has the pond from now on is told so, with the card."""
        if person.begins is None or _mark(person) in self.handed or person.rests(at, 0, self.zone):
            return []
        self.handed = [*self.handed, _mark(person)][-32:]
        say, pond = self.words.say, self.words.pond
        standing = "; ".join(self.words.line(each) for _, found in incidents for each in found)
        subject = say("handover_subject", pond=pond)
        if person.ends is not None:
            subject = say("handover_subject_until", pond=pond, until=self.words.clock(person.ends - 1))
        lines = [
            say("handover", name=person.name, pond=pond),
            "",
            *card(self.words.desk.catalogue.words, person, self.people, at),
            "",
            say("handover_now", standing=standing or say("handover_quiet")),
        ]
        thread = f"handover/{person.begins}"
        return [
            Message(
                f"handover/low/0/handover/{at}/{person.name}", at, person.name, person.addresses, "handover", "low",
                subject, "\n".join(lines), HANDOVER, thread, True,
            )
        ]  # fmt: skip

    # ------------------------------------------------------------ mornings

    def _morning(self, person: Person, at: int, incidents: Incidents) -> list[Message]:
        held, still = [], []
        for incident, standing in incidents:
            contact = incident.contacts.get(person.name)
            if contact is not None and 0 < contact.held_until <= at:
                held.append(Occasion(incident, standing, person, contact, "morning", at))
            elif contact is not None and contact.count:
                still += standing
        daily = self._daily(person, at)
        if not held and not daily:
            return []
        if len(held) == 1 and not daily:
            return [self._in_its_thread(held[0])]
        return [self._together(person, at, held, still)]

    def _daily(self, person: Person, at: int) -> bool:
        """Whether the word of every morning is due; the next one is reckoned."""
        if person.morning is None:
            return False
        due = self.next.get(person.name)
        if due is not None and at < due:
            return False
        self.next[person.name] = person.next_morning(at, self.zone)
        return due is not None and (at - due < LATE_MS or not person.rests(at, 0, self.zone))

    def _in_its_thread(self, on: Occasion) -> Message:
        incident, priority = on.incident, PRIORITIES[_rank(on.new)]
        message = Message(
            f"{incident.kind}/{priority}/{incident.number}/morning/{on.at}/{on.person.name}", on.at, on.person.name,
            on.person.addresses, "morning", priority, self.words.subject(on), self.words.text(on), incident.number,
            incident.thread, not on.contact.opened, asks(on.standing),
        )  # fmt: skip
        _told(on)
        on.contact.opened = True
        return message

    def _together(self, person: Person, at: int, held: list[Occasion], still: list[Standing]) -> Message:
        """Whatever has waited, in one message, with last night in a line for those who want a word every morning."""
        sent, new = self.sent.pop(person.name, 0), [each for on in held for each in on.new]
        say = self.words.say
        parts = [self.night(at)] if person.morning is not None else []
        parts += [say("morning_sent", count=sent)] if sent else []
        parts += ["\n".join([say("morning_still"), *(f"  {self.words.line(each)}" for each in still)])] if still else []
        parts += [say("morning_waited")] if held else []
        for on in held:
            parts.append("\n".join(self.words.course(on.incident)))
            parts += [self.words.in_full(gravest(on.standing), person, at)] if on.standing else []
        if not (sent or still or held):
            parts.append(say("morning_nothing"))
        titles = [self.words.title(on) for on in held]
        titles += [self.words.desk.kinds[each.item.alarm].title for each in still]
        what = "; ".join(dict.fromkeys(titles)) or say("morning_told" if sent else "morning_quiet")
        subject = say("morning_subject", pond=self.words.pond, what=what)
        text, rank = "\n\n".join(part for part in parts if part), _rank(new)
        waiting = asks([each for on in held for each in on.standing])
        for on in held:
            _told(on)
        return Message(
            f"morning/{PRIORITIES[rank]}/0/morning/{at}/{person.name}", at, person.name, person.addresses, "morning",
            PRIORITIES[rank], subject, text, MORNING, f"morning/{at}", True, waiting,
        )  # fmt: skip


def _mark(person: Person) -> str:
    return f"{person.name}/{person.begins}"


def _rank(standing: Sequence[Standing]) -> int:
    return max((each.rank for each in standing), default=0)


def _told(on: Occasion) -> None:
    plan_repeat(on)
    on.contact.told(on.at, on.incident.news, _rank(on.new))
