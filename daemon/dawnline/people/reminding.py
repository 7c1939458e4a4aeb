"""Reminders as messages: each thing once, by day, at most one message a day; they wake nobody and ask for no answer.

They go to those who are told first and want to hear of what is low, not to whoever has the plain card.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import tzinfo
from typing import Any, Final

from dawnline.duration import local_date, local_ms, next_local_ms
from dawnline.event import Message
from dawnline.logbook.reminders import Reminder, Reminders
from dawnline.people.person import Person
from dawnline.state import Stateful

REMINDERS: Final = -3  # in place of an incident's number: a newer one takes the place of one not delivered


class Reminding(Stateful):
    """Who was reminded of what."""

    KEPT = ("told", "next_at", "waiting")

    def __init__(self, reminders: Reminders, people: Sequence[Person], pond: str, zone: tzinfo) -> None:
        self.reminders = reminders
        self.people = people
        self.pond = pond
        self.zone = zone
        self.told: dict[str, int] = {}  # by reminder: when it had been done last, as it was told
        self.next_at = 0
        self.waiting: dict[str, int] = {}  # by person: until when they rest [ms]

    def minute(self, at: int, buffer: Mapping[str, Any]) -> list[Message]:
        """A whole minute has passed; `buffer` is the body of the latest forecast of the buffer."""
        if at < self.next_at:
            return []
        self.reminders.begin(at)
        messages = self._late(at, buffer)
        minute = self.reminders.settings.tell_minute
        if at >= local_ms(local_date(at, self.zone), self.zone, minute) and self.next_at:
            messages += self._fresh(at, buffer)
        self.next_at = min([next_local_ms(minute, at, self.zone), *self.waiting.values()])
        return messages

    def _fresh(self, at: int, buffer: Mapping[str, Any]) -> list[Message]:
        """What has become due since the last day's look."""
        due = self.reminders.due(buffer, at)
        new = [each for each in due if self.told.get(each.name) != (each.last or 0)]
        if not new:
            return []
        self.told |= {each.name: each.last or 0 for each in new}
        hearing = [person for person in self.people if person.on_duty(at) and person.hears(0) and not person.card]
        first = min((person.order for person in hearing), default=0)
        messages = []
        for person in (each for each in hearing if each.order == first):
            if person.rests(at, 0, self.zone):
                self.waiting[person.name] = person.next_morning(at, self.zone)
            else:
                messages.append(self._message(person, due, at))
        return messages

    def _late(self, at: int, buffer: Mapping[str, Any]) -> list[Message]:
        """Those who rested when it was told."""
        ready = {person for person, until in self.waiting.items() if until <= at}
        self.waiting = {person: until for person, until in self.waiting.items() if person not in ready}
        due = self.reminders.due(buffer, at) if ready else []
        return [self._message(person, due, at) for person in self.people if person.name in ready and due]

    def _message(self, person: Person, due: Sequence[Reminder], at: int) -> Message:
        words = self.reminders.words
        subject = words["reminder_subject"].format(pond=self.pond, what="; ".join(each.what for each in due))
        lines = [words["reminder"].format(name=person.name, pond=self.pond)]
        for each in due:
            lines += ["", f"- {each.text}", f"  {words['reminder_noted'].format(record=each.record)}"]
        return Message(
            f"reminders/low/0/reminder/{at}/{person.name}", at, person.name, person.addresses, "reminder", "low",
            subject, "\n".join(lines), REMINDERS, f"reminders/{at}", True,
        )  # fmt: skip
