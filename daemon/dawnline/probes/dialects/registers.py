"""The bytes of Modbus registers as a number: type, order, scale.

A register is two bytes, the higher first (Modbus Application Protocol Specification V1.1b3, section 4.2).
How a number of 32 bits lies in two registers the specification leaves open, so devices differ: `word_order`
"big" is the higher half first, "little" the lower half first; `byte_order` "little" turns the two bytes of
each register round.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from dawnline.probes.dialects.value import Refusal, Refused

Type: TypeAlias = Literal["int16", "uint16", "int32", "uint32", "float32"]
Order: TypeAlias = Literal["big", "little"]

_CODES: Final[dict[Type, str]] = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}


@dataclass(frozen=True, slots=True)
class RegisterForm:
    """How a device writes one number: value = number * scale + offset, in the unit of the probe's quantity.

    `missing` are the bit patterns, in the right order and without sign, by which it says that it has no
    measurement, such as 0x8000.
    """

    type: Type = "int16"
    byte_order: Order = "big"
    word_order: Order = "big"
    scale: float = 1.0
    offset: float = 0.0
    missing: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """How many registers it takes."""
        return struct.calcsize(_CODES[self.type]) // 2


def decode(data: bytes, form: RegisterForm) -> float | Refused:
    r"""The value that the bytes of `form.count` registers hold, finite, or why they hold none.

    >>> decode(b"\x02\xc8", RegisterForm(scale=0.01))
    7.12
    >>> decode(b"\x80\x00", RegisterForm(missing=(0x8000,))).refusal
    <Refusal.NO_MEASUREMENT: 'the device says that it has no measurement'>
    """
    if len(data) != 2 * form.count:
        return Refused(Refusal.UNFIT, f"{len(data)} bytes where {2 * form.count} belong")
    ordered = _ordered(data, form)
    if int.from_bytes(ordered, "big") in form.missing:
        return Refused(Refusal.NO_MEASUREMENT, f"0x{ordered.hex().upper()}")
    (number,) = struct.unpack(_CODES[form.type], ordered)
    value = number * form.scale + form.offset
    if not math.isfinite(value):
        return Refused(Refusal.NOT_FINITE, f"0x{ordered.hex().upper()}")
    # Twelve digits: more than any device has, and 184 * 0.1 is 18.4.
    return float(f"{value:.12g}")


def _ordered(data: bytes, form: RegisterForm) -> bytes:
    words = [data[i : i + 2] for i in range(0, len(data), 2)]
    if form.word_order == "little":
        words.reverse()
    if form.byte_order == "little":
        words = [word[::-1] for word in words]
    return b"".join(words)
