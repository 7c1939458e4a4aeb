"""Which letters a notice becomes: one for each person and address whose threshold it meets."""

from __future__ import annotations

from collections.abc import Iterable

from dawnline.delivery.letter import Letter
from dawnline.delivery.settings import PersonSettings
from dawnline.event import PRIORITIES, Notice


def letters(notice: Notice, people: Iterable[PersonSettings]) -> list[Letter]:
    """The letters of `notice`, in the order of the configuration.

    A person hears of it when its priority is at least theirs. A letter's key is the notice's key, the person
    and the address as configured, so the same notice always gives the same keys; an address written twice
    gives one letter.
    """
    rank = PRIORITIES.index(notice.priority)
    found: dict[str, Letter] = {}
    for person in people:
        if rank < PRIORITIES.index(person.priority):
            continue
        for address in person.addresses:
            letter = _letter(notice, person.name, address)
            found.setdefault(letter.key, letter)
    return list(found.values())


def _letter(notice: Notice, person: str, address: str) -> Letter:
    return Letter(
        key=f"{notice.key}/{person}/{address}",
        at=notice.at,
        episode=notice.episode,
        person=person,
        address=address,
        priority=notice.priority,
        subject=notice.subject,
        text=notice.text,
    )
