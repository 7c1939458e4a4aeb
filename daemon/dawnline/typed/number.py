"""A number as people type it: "2.1", "2,1", "1/4", "1 1/2", "14 000", "1,234.5". Exact, as a fraction.

A single comma before exactly three digits ("1,500") may mean either, and is refused. A point is a decimal point; in
a volume, where thousands are common, it is refused there too ("14.000 L": see `one_reading`).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from dawnline.errors import InputError

LONGEST: Final = 40  # characters of a number
_VULGAR: Final = {
    "¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_MINUS: Final = "\u2212\u2013\u2010\u2011"
_SPACES: Final = "\u00a0\u2009\u202f\u2007"
_FULL: Final = {chr(0xFF10 + digit): str(digit) for digit in range(10)}
_PLAINER: Final = str.maketrans({**dict.fromkeys(_MINUS, "-"), **dict.fromkeys(_SPACES, " "), **_FULL})

# Form, and which of its marks is the decimal one; the others part thousands.
_FORMS: Final = (
    (re.compile(r"[0-9]+"), ""),
    (re.compile(r"[0-9]*\.[0-9]+|[0-9]+\."), "."),
    (re.compile(r"[0-9]{1,3}(?: [0-9]{3})+(?:\.[0-9]+)?"), "."),
    (re.compile(r"[0-9]{1,3}(?: [0-9]{3})+,[0-9]+"), ","),
    (re.compile(r"[0-9]{1,3}(?:,[0-9]{3}){2,}|[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+"), "."),
    (re.compile(r"[0-9]{1,3}(?:\.[0-9]{3}){2,}|[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+"), ","),
    (re.compile(r"[0-9]*,[0-9]+"), ","),
)
_FRACTION: Final = re.compile(r"(?:([0-9]+)[ +])?([0-9]+) ?/ ?([0-9]+)")
_EITHER: Final = re.compile(r"([1-9][0-9]{0,2})([.,])([0-9]{3})")


def plain(text: str) -> str:
    """The same text with ASCII digits, minus and spaces, and fractions such as ½ written out.

    >>> plain("1½ cups"), plain("\u2212\uff13")
    ('1 1/2 cups', '-3')
    """
    text = text.translate(_PLAINER)
    for sign, written in _VULGAR.items():
        text = text.replace(sign, f" {written}").replace("\u2044", "/")
    return text.strip()


def number(text: str) -> Fraction:
    """The number. Raises InputError that says what to write instead.

    >>> number("2,1"), number("1 1/2"), number("14 000")
    (Fraction(21, 10), Fraction(3, 2), Fraction(14000, 1))
    """
    found = plain(text)
    if len(found) > LONGEST:
        raise InputError(f"found {found[:LONGEST]!r}..., expected a number of at most {LONGEST} characters")
    sign = -1 if found.startswith("-") else 1
    digits = found.removeprefix("-").removeprefix("+").strip()
    if parts := _FRACTION.fullmatch(digits):
        whole, over, under = (int(part or 0) for part in parts.groups())
        if not under:
            raise InputError(f"found {found!r}, a fraction of nothing: write a number such as 1/4")
        return sign * (whole + Fraction(over, under))
    one_reading(digits, ",")
    for form, decimal in _FORMS:
        if form.fullmatch(digits):
            kept = "".join("." if c == decimal else c for c in digits if c.isdigit() or c == decimal)
            return sign * Fraction(kept)
    raise InputError(f"found {found!r}, expected a number such as 3, 2.1, 2,1 or 1/4")


def one_reading(digits: str, mark: str) -> None:
    """Raises InputError that names both readings, where `mark` may part thousands or be the decimal one.

    >>> one_reading("14.5", "."), one_reading("14.000", ",")
    (None, None)
    """
    either = _EITHER.fullmatch(digits.lstrip("+-").strip())
    if either is None or either[2] != mark:
        return
    decimals = either[3].rstrip("0")
    point = f"{either[1]}.{decimals}" if decimals else either[1]
    point += "0" if len(decimals) == 3 else ""  # else it would be asked about once more
    raise InputError(f"found {digits!r}, which may be {either[1]}{either[3]} or {point}: write one of these")
