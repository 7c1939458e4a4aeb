"""Who is told, when, and why: takes what the alarm desk says, gives the messages that are due.

Rules, each in its own place: an incident gathers its alarms (incident.py); nobody is told below their priority or, in
their quiet hours, of what need not wake them (person.py); of a flood one message an hour goes out (rules.py). Those
asked first are asked alone until nobody has acknowledged a high alarm for a while, or until none of them can be
reached; then the next are asked, too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from dawnline.alarms.desk import Desk
from dawnline.alarms.states import VISIBLE, State
from dawnline.duration import EVER_MS
from dawnline.event import PRIORITIES, Effect, Message, Notice, Transition, Why
from dawnline.outlook.reach import Reach
from dawnline.people.incident import LINGERS_MS, Contact, Incident, kind_of
from dawnline.people.mornings import Mornings
from dawnline.people.person import RANK, Person
from dawnline.people.rules import GATHERS_MS, earliest, plan_repeat
from dawnline.people.words import Occasion, Standing, Words, asks

HIGH: Final = RANK["high"]
ON_ANOTHER_ROUTE: Final = "delivery-failing"  # goes to everybody, by ways that do not fail


class Telling:
    """All that people are told about one pond. `night` gives last night in one line, at a time [ms]."""

    def __init__(
        self,
        people: Sequence[Person],
        pond: str,
        desk: Desk,
        reach: Reach,
        *,
        night: Callable[[int], str] = lambda at: "",
    ) -> None:
        self.people = people
        self.zone = desk.zone
        self.desk = desk
        self.reach = reach
        self.words = Words(desk, pond, desk.zone, people)
        self.incidents: list[Incident] = []
        self.mornings = Mornings(people, desk.zone, self.words, night)
        self.changed = False  # the memory differs from what was saved last

    # ------------------------------------------------------------ what has happened

    def take(self, effects: Sequence[Effect]) -> None:
        """Take what the desk said; a transition is told where its notice follows it."""
        if not self.people:
            return
        for number, effect in enumerate(effects):
            if isinstance(effect, Transition):
                follows = effects[number + 1] if number + 1 < len(effects) else None
                self._happened(effect, told=isinstance(follows, Notice) and follows.episode == effect.id)

    def _happened(self, change: Transition, *, told: bool) -> None:
        if told and change.change != "returned":
            self._incident_for(change).take(change)
        else:
            for incident in self.incidents:
                if change.id in incident.items:
                    incident.note(change)
        self.changed = True

    def _incident_for(self, change: Transition) -> Incident:
        kind = kind_of(change.alarm)
        for incident in self.incidents:
            if incident.kind == kind:
                return incident
        self.incidents.append(Incident(kind, change.id, change.at))
        return self.incidents[-1]

    # ------------------------------------------------------------ what is due

    def decide(self, at: int) -> list[Message]:
        """The messages due at `at` [ms]; asked each minute, and after each act."""
        if not self.incidents and at < self.mornings.next_at:
            return []
        messages: list[Message] = []
        if at >= self.mornings.next_at:
            messages = self.mornings.due(at, [(incident, self._standing(incident)) for incident in self.incidents])
        for incident in list(self.incidents):
            if at < incident.rests_until and incident.news == incident.rests_at:
                continue
            messages += self._of(incident, at)
            self._let_rest(incident, at)
            if self._done(incident, at):
                self.incidents.remove(incident)
                self.changed = True
        self.changed = self.changed or bool(messages)
        return messages

    def _of(self, incident: Incident, at: int) -> list[Message]:
        standing = self._standing(incident)
        if not incident.closed_at and not any(self._runs(episode, incident) for episode in incident.items):
            incident.closed_at, self.changed = at, True
        self._ask(incident, standing, at)
        found = [self._for(incident, person, standing, at) for person in self.people if person.on_duty(at)]
        return [message for message in found if message is not None]

    def _let_rest(self, incident: Incident, at: int) -> None:
        """Where all have been told and nothing is asked of anybody, nothing can be due before a repeat is, somebody's
        days begin or end, or something happens.
        """
        incident.rests_until = 0
        if incident.closed_at or incident.asked_at or incident.kind == ON_ANOTHER_ROUTE:
            return
        until = EVER_MS
        for person in self.people:
            edges = [edge for edge in (person.begins, person.ends) if edge is not None and edge > at]
            contact = incident.contacts.get(person.name)
            if contact is not None and person.on_duty(at):
                if contact.seen != incident.news or contact.held_until:
                    return
                edges += [contact.next_repeat] if contact.next_repeat else []
            until = min(until, *edges) if edges else until
        incident.rests_until, incident.rests_at = until, incident.news

    def _standing(self, incident: Incident) -> list[Standing]:
        found = []
        for item in incident.items.values():
            memory = self.desk.memory.get((item.alarm, item.probe))
            if memory is not None and self._runs(item.episode, incident) and memory.state in VISIBLE:
                found.append(Standing(item, memory, memory.state is State.ACKNOWLEDGED))
        return found

    def _runs(self, episode: int, incident: Incident) -> bool:
        """Whether an episode goes on, shown or hidden."""
        item = incident.items[episode]
        memory = self.desk.memory.get((item.alarm, item.probe))
        return memory is not None and memory.id == episode and not memory.ended

    def _ask(self, incident: Incident, standing: Sequence[Standing], at: int) -> None:
        """Who is to be asked by now: the first in order, and the next where those do not answer."""
        top = max((each.rank for each in standing), default=-1)
        hearing = [person for person in self.people if person.on_duty(at) and person.hears(top)]
        before = (incident.level, incident.asked_at)
        if incident.kind == ON_ANOTHER_ROUTE:
            hearing = [person for person in hearing if self._ways(person, failing=False)]
        if hearing:
            incident.level = max(incident.level, min(person.order for person in hearing))
            self._ask_the_next(incident, standing, hearing, at)
        self.changed = self.changed or before != (incident.level, incident.asked_at)

    def _ask_the_next(
        self, incident: Incident, standing: Sequence[Standing], hearing: Sequence[Person], at: int
    ) -> None:
        if not any(incident.calls(each.rank) == HIGH and not each.acknowledged for each in standing):
            incident.asked_at = 0
            return
        incident.asked_at = incident.asked_at or at
        later = [person for person in hearing if person.order > incident.level]
        if not later:
            return
        order = min(person.order for person in later)
        asked = [person for person in hearing if person.order <= incident.level]
        nobody = not any(self._ways(person, failing=False) for person in asked)
        if nobody or at - incident.asked_at >= min(person.after for person in later if person.order == order):
            incident.level, incident.asked_at, incident.unreachable = order, at, nobody

    def _ways(self, person: Person, *, failing: bool) -> tuple[str, ...]:
        """The addresses of a person by which messages get through, or do not."""
        return tuple(each for each in person.addresses if self.reach.fails(person.name, each) == failing)

    # ------------------------------------------------------------ one person

    def _for(self, incident: Incident, person: Person, standing: Sequence[Standing], at: int) -> Message | None:
        contact = incident.contacts.get(person.name)
        if contact is None:
            top = max((each.rank for each in standing), default=-1)
            if not person.hears(top) or person.order > incident.level:
                return None
            contact = incident.contact(person.name)
        why, rank = self._why(incident, person, contact, standing, at)
        if why is None:
            return None
        awake = why == "over" and self._hears_the_all_clear(incident, person, contact, at)
        if self._waits(contact, person, why, incident.calls(rank), at, awake=awake):
            return None
        ways = self._other_ways(person, contact) if incident.kind == ON_ANOTHER_ROUTE else person.addresses
        return self._message(Occasion(incident, standing, person, contact, why, at), rank, ways) if ways else None

    def _hears_the_all_clear(self, incident: Incident, person: Person, contact: Contact, at: int) -> bool:
        """Whether it is over for somebody who was woken for it and has not put it away."""
        found = [self.desk.memory.get((item.alarm, item.probe)) for item in incident.items.values()]
        shelved = any(memory is not None and memory.shelved_until for memory in found)
        return contact.seen < incident.ended and not shelved and person.woken(contact.last_at, at, self.zone)

    def _other_ways(self, person: Person, contact: Contact) -> tuple[str, ...]:
        """The addresses by which to tell a person that messages do not arrive elsewhere; none where that is over before
        they heard of it, or where they were asked for that very reason.
        """
        asked = any(each.unreachable and person.name in each.contacts for each in self.incidents)
        if not contact.count and (asked or not self.reach.ways):
            return ()
        return self._ways(person, failing=False)

    def _waits(self, contact: Contact, person: Person, why: Why, rank: int, at: int, *, awake: bool) -> bool:
        """Whether a message is not to go out yet: too soon after the last one, or the person rests; who was woken for
        it is `awake` to the all-clear.
        """
        urgent = rank == HIGH or not contact.count or why in ("repeat", "unanswered", "unreachable")
        if rank <= contact.top and at < earliest(contact, urgent=urgent):
            return True
        if why == "repeat" and at - contact.last_at < GATHERS_MS:  # something else has just reminded them
            return True
        if awake:
            return False
        if not person.rests(at, rank, self.zone) and (contact.held_until <= at or rank >= RANK[person.wakes]):
            return False
        if not contact.held_until:
            contact.held_until, self.changed = person.next_morning(at, self.zone), True
            self.mornings.expect(contact.held_until)
        return True

    def _why(
        self, incident: Incident, person: Person, contact: Contact, standing: Sequence[Standing], at: int
    ) -> tuple[Why | None, int]:
        """The reason for a message to this person now, and the rank of what is new; None where there is none."""
        new = [each for each in standing if each.item.news > contact.seen]
        rank = max((each.rank for each in new), default=-1)
        if new and person.hears(rank):
            return self._news(incident, person, contact, rank), rank
        if not contact.count:
            return None, 0
        if contact.seen < incident.ended or self._concerns(incident, person, contact):
            return ("update" if standing or not incident.closed_at else "over"), 0
        waiting = [each.rank for each in standing if not each.acknowledged]
        due = waiting and contact.next_repeat and at >= contact.next_repeat
        return ("repeat", max(waiting)) if due else (None, 0)

    def _news(self, incident: Incident, person: Person, contact: Contact, rank: int) -> Why:
        """Why this person hears of something new."""
        if contact.count or incident.kind == ON_ANOTHER_ROUTE:
            return "again" if incident.back else "raised"
        asked = [each for each in self.people if each.order < person.order and each.hears(rank)]
        if any(each.name in incident.contacts for each in asked):
            return "unreachable" if incident.unreachable else "unanswered"
        return "raised"

    def _concerns(self, incident: Incident, person: Person, contact: Contact) -> bool:
        """Whether what somebody did is news to this person: not their own deed, nor where nobody else was told."""
        others = sum(each.count > 0 for each in incident.contacts.values()) > 1
        return contact.seen < incident.acted and others and incident.actor.casefold() != person.name.casefold()

    def _message(self, on: Occasion, rank: int, ways: tuple[str, ...]) -> Message:
        incident, priority, person = on.incident, PRIORITIES[rank], on.person
        message = Message(
            f"{incident.kind}/{priority}/{incident.number}/{on.why}/{on.at}/{person.name}", on.at, person.name, ways,
            on.why, priority, self.words.subject(on), self.words.text(on), incident.number, incident.thread,
            not on.contact.opened, asks(on.standing),
        )  # fmt: skip
        plan_repeat(on)
        on.contact.told(on.at, incident.news, rank)
        on.contact.opened = True
        self.mornings.count(person)
        return message

    def _done(self, incident: Incident, at: int) -> bool:
        """Whether there is nothing left to say, and it has been over for so long that what comes is another."""
        if not incident.closed_at or at - incident.closed_at < LINGERS_MS:
            return False
        names = {person.name for person in self.people if person.on_duty(at)}
        return not any(
            contact.held_until or (contact.count and contact.seen < incident.ended)
            for name, contact in incident.contacts.items()
            if name in names
        )

    def told(self, episode: int) -> list[str]:
        """Who was told of the incident that an episode belongs to."""
        found = [incident.contacts for incident in self.incidents if episode in incident.items]
        return [person for contacts in found for person, contact in contacts.items() if contact.count]

    # ------------------------------------------------------------ memory

    def save(self) -> dict[str, Any]:
        """The memory as plain JSON values."""
        return {"incidents": [incident.save() for incident in self.incidents], "mornings": self.mornings.save()}

    def restore(self, saved: dict[str, Any]) -> None:
        """Take back what `save` gave. Raises KeyError, TypeError or ValueError for another shape."""
        kinds = self.desk.kinds
        found = [Incident.restored(each) for each in saved["incidents"]]
        self.incidents = [each for each in found if all(item.alarm in kinds for item in each.items.values())]
        self.mornings.restore(saved["mornings"])

    def shift(self, since: int, by: int) -> None:
        """Times of `since` [ms] and later lie `by` ms later in truth."""
        for incident in self.incidents:
            incident.shift(since, by)
        self.mornings.forget()
        self.changed = True
