"""A letter: one text for one address. The outbox keeps letters; delivery knows nothing of why they were written."""

from __future__ import annotations

from dataclasses import dataclass

from dawnline.event import Priority


@dataclass(frozen=True, slots=True)
class Letter:
    """`key` is unique for ever (a second one with the same key is the same letter).

    `address` is as the configuration writes it, so a secret in it stays a reference. `attempts` counts the
    attempts begun before this one; a letter with any is marked as a repeat, since an earlier one may have
    arrived.
    """

    key: str
    at: int
    episode: int
    person: str
    address: str
    priority: Priority
    subject: str
    text: str
    attempts: int = 0
