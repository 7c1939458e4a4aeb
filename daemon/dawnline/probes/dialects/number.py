"""A number as devices write it, and nothing else."""

from __future__ import annotations

import math
import re

from dawnline.probes.dialects.value import Refusal

# No "nan", "inf", "1_000", "0x1F" or digits of other scripts, all of which float() would take.
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)", re.IGNORECASE)


def number(raw: object) -> float | Refusal:
    """The number that a text, or a value out of JSON, is.

    A leading plus is fine, and so is a number in quotes; a truth value is no number, and "7,12" is refused as
    what it is rather than guessed at.

    >>> number("+7.12"), number("7,12"), number("1e999"), number(True)
    (7.12, <Refusal.DECIMAL_COMMA: 'decimal comma'>, <Refusal.NOT_FINITE: 'not finite'>, \
<Refusal.NOT_A_NUMBER: 'not a number'>)
    """
    if isinstance(raw, float):
        return raw if math.isfinite(raw) else Refusal.NOT_FINITE
    if not isinstance(raw, str):
        return Refusal.NOT_A_NUMBER
    text = raw.strip(" \t")
    if _NUMBER.fullmatch(text):
        value = float(text)
        return value if math.isfinite(value) else Refusal.NOT_FINITE
    if not text:
        return Refusal.EMPTY
    if _DECIMAL_COMMA.fullmatch(text):
        return Refusal.DECIMAL_COMMA
    return Refusal.NOT_FINITE if _NOT_FINITE.fullmatch(text) else Refusal.NOT_A_NUMBER
