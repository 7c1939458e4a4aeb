"""A letter: one text for one address. The store keeps letters, delivery sends them; neither asks why they exist."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal, NamedTuple, TypeAlias

from dawnline.event import Message, Priority

LetterState: TypeAlias = Literal["waiting", "trying", "delivered", "superseded", "dead"]

_WEEK = re.compile(r"week/(\d{4}-\d\d-\d\d)/(\d{4}-\d\d-\d\d)")
_UNFIT = frozenset({"Cc", "Cs", "Zl", "Zp"})  # control, lone surrogate, line and paragraph separator


@dataclass(frozen=True, slots=True)
class Letter:
    """`key` is unique for ever (a second one with the same key is the same letter). `at` is Unix ms.

    `episode` is the number of the incident: a newer letter of it to the same person and address says all that an older
    one said. `address` is as the configuration writes it, so a secret in it stays a reference. `attempts` counts the
    attempts begun: any of them may have arrived, so that a further one is marked as a repeat (`Marks`). `thread` is
    the same for all letters of one incident, `opens` marks a person's first in it, and `asks` are the alarms that wait
    to be acknowledged.
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
    thread: str = ""
    opens: bool = True
    asks: tuple[int, ...] = ()
    state: LetterState = "waiting"

    @property
    def week(self) -> tuple[date, date] | None:
        """First and last day of the report that goes with it, told by its thread; None for any other letter."""
        found = _WEEK.fullmatch(self.thread)
        return None if found is None else (date.fromisoformat(found[1]), date.fromisoformat(found[2]))

    @property
    def lane(self) -> str:
        """Letters of one lane go one after the other. A report takes a while to draw: it holds up no other letter."""
        return self.address if self.week is None else f"{self.address} (report)"

    @property
    def is_repeat(self) -> bool:
        """Whether an earlier attempt may already have arrived."""
        return self.attempts > 0

    @property
    def subject_to_send(self) -> str:
        """The subject on one line, fit for a header."""
        return one_line(self.subject)

    @property
    def text_to_send(self) -> str:
        """The text without control characters, lines ended by a line feed."""
        lines = [_fit(line) for line in self.text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]
        return "\n".join(lines)


def letters(message: Message) -> list[Letter]:
    """The letters a message becomes, in the order of its addresses; an address written twice gives one.

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


class Marks(NamedTuple):
    """What a repeat says of itself: in the subject, of which `{line}` is the rest, and above the text."""

    subject: str
    text: str

    def on(self, letter: Letter) -> Letter:
        """The letter, marked where it is a repeat."""
        if not letter.is_repeat:
            return letter
        subject = self.subject.format(line=letter.subject)
        return replace(letter, subject=subject, text=f"{self.text}\n\n{letter.text}")


def one_line(text: str) -> str:
    """`text` as one line of printable characters with single spaces: nothing in it can end a header.

    >>> one_line("pH 6.4\\r\\nBcc: eve@example.org")
    'pH 6.4 Bcc: eve@example.org'
    """
    return " ".join(_fit(text).split())


def _fit(text: str) -> str:
    return "".join(" " if c != "\t" and unicodedata.category(c) in _UNFIT else c for c in text)
