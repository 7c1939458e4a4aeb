"""Which letters a message becomes: one for each address of the person it is for."""

from __future__ import annotations

from dawnline.event import Message
from dawnline.letter import Letter


def letters(message: Message) -> list[Letter]:
    """The letters of `message`, in the order of its addresses; an address written twice gives one.

    A letter's key is the message's key and the address as configured, so the same message always gives the same keys.
    """
    return [
        Letter(
            key=f"{message.key}/{address}",
            at=message.at,
            episode=message.incident,
            person=message.person,
            address=address,
            priority=message.priority,
            subject=message.subject,
            text=message.text,
            thread=message.thread,
            opens=message.opens,
            asks=message.asks,
        )
        for address in dict.fromkeys(message.addresses)
    ]
