"""What a dialect gives back: a value, or a refusal with its reason from a closed list."""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

SHOWN_CHARACTERS = 80


class Refusal(Enum):
    """Why a line, a payload or one value of it cannot be used; counted and shown under its text."""

    TOO_LONG = "too long"
    CUT = "cut short"  # not from its beginning, or not to its end: nobody knows what is missing
    EMPTY = "empty"
    BYTE_ORDER_MARK = "byte order mark"
    NOT_ASCII = "not ASCII"
    NOT_UTF8 = "not UTF-8"
    NOT_JSON = "not JSON"
    NOT_AN_OBJECT = "JSON, but neither a number nor an object"
    NESTED_TOO_DEEP = "nested too deep"
    DUPLICATE_KEY = "duplicate key"
    NOT_A_PAIR = "not name=value"
    DECIMAL_COMMA = "decimal comma"
    NOT_A_NUMBER = "not a number"
    NOT_FINITE = "not finite"
    NO_SUCH_KEY = "no such key"
    UNKNOWN_NAME = "unknown name"
    BARE_NUMBER = "bare number, but several probes"
    BAD_TIME = "bad time"
    UNKNOWN_TOPIC = "unknown topic"
    CHECKSUM = "check sum wrong"
    # a bus that is asked
    NO_ANSWER = "no answer"
    NO_FRAME = "no answer among what came"  # noise, an answer of another unit or to another question
    UNFIT = "answer does not fit the question"
    NO_MEASUREMENT = "the device says that it has no measurement"
    EXCEPTION = "exception reply"
    EXCEPTION_1 = "exception reply 1, illegal function"
    EXCEPTION_2 = "exception reply 2, illegal data address"
    EXCEPTION_3 = "exception reply 3, illegal data value"
    EXCEPTION_4 = "exception reply 4, device failure"
    EXCEPTION_5 = "exception reply 5, acknowledge"
    EXCEPTION_6 = "exception reply 6, device busy"
    EXCEPTION_8 = "exception reply 8, memory parity error"
    EXCEPTION_10 = "exception reply 10, gateway path unavailable"
    EXCEPTION_11 = "exception reply 11, gateway target does not respond"
    # 1-Wire
    NOT_THERE = "device not there"
    NOT_TWO_LINES = "not the kernel's two lines"
    NO_TEMPERATURE = "no t="
    ALL_ZERO = "all zeros, as from a shorted data line"
    POWER_ON = "power-on value 85, nothing measured yet"
    OPEN_CIRCUIT = "failed measurement: short of power, or an open circuit"
    OUT_OF_RANGE = "outside the device's range"
    FAULT = "fault of ours"  # a decoder crashed: a bug, worth a report


class Value(NamedTuple):
    """One value: its name where it has one, and the sender's time (Unix ms, UTC) where it gave one."""

    key: str | None
    value: float
    at: int | None


class Refused(NamedTuple):
    """What was refused and why. `text` is escaped, printable ASCII and at most 80 characters."""

    refusal: Refusal
    text: str
    key: str | None = None


def shown(raw: bytes | str, limit: int = SHOWN_CHARACTERS) -> str:
    r"""`raw` fit for a log or a page: printable ASCII, cut at `limit` characters.

    >>> shown(b"7.1\x00\xff")
    '7.1\\x00\\xff'
    """
    text = raw[: limit + 1]
    if isinstance(text, bytes):
        text = text.decode("ascii", "backslashreplace")
    safe = "".join(c if " " <= c <= "~" else ascii(c)[1:-1] for c in text)
    return safe if len(safe) <= limit else safe[: limit - 3] + "..."
