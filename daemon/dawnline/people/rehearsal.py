"""What an alarm would say to each person, marked TEST throughout: for `dawnline check --notify`."""

from __future__ import annotations

from typing import Final

from dawnline.alarms.memory import Memory
from dawnline.event import Message, Transition
from dawnline.people.incident import Contact, Incident
from dawnline.people.words import Occasion, Standing, Words

MARK: Final = "TEST"


def rehearse(alarm: str, at: int, words: Words) -> list[Message]:
    """One message for each of the people that `words` knows, as it would be at `at` [ms]; it asks for no answer."""
    kind, memory, fact = words.desk.kinds[alarm], Memory(), words.say("test_fact")
    incident = Incident(alarm, 0, at)
    incident.take(Transition(0, at, at, alarm, "raised", kind.priority, None, None, fact))
    memory.since, memory.priority, memory.evidence = at, kind.priority, fact
    standing = [Standing(incident.items[0], memory, acknowledged=False)]
    return [_to(Occasion(incident, standing, person, Contact(), "raised", at), words) for person in words.people]


def _to(on: Occasion, words: Words) -> Message:
    alarm, priority, person = on.incident.kind, on.standing[0].memory.priority, on.person
    paragraphs = [words.say("test", alarm=alarm, person=person.name), *words.text(on).split("\n\n")]
    return Message(
        f"test/{priority}/0/raised/{on.at}/{person.name}", on.at, person.name, person.addresses, "raised", priority,
        f"{MARK} {words.subject(on)}", "\n\n".join(f"{MARK}. {paragraph}" for paragraph in paragraphs), 0,
        f"test/0/{on.at}", True,
    )  # fmt: skip
