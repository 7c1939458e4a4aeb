r"""Modbus questions and answers without their frame: what is read, and what comes back.

Modbus Application Protocol Specification V1.1b3, sections 6.3 (read holding registers, function 3), 6.4 (read
input registers, function 4) and 7 (exception replies). All numbers are big-endian.

    question   function, first register (2 bytes), number of registers (2 bytes)
    answer     function, number of bytes that follow, two bytes a register
    exception  function + 0x80, exception code
"""

from __future__ import annotations

import struct
from typing import Final, Literal, TypeAlias

from dawnline.probes.dialects.value import Refusal, Refused, shown

Table: TypeAlias = Literal["holding", "input"]

FUNCTIONS: Final[dict[Table, int]] = {"holding": 3, "input": 4}
_EXCEPTION: Final = 0x80
_EXCEPTIONS: Final = {
    1: Refusal.EXCEPTION_1,
    2: Refusal.EXCEPTION_2,
    3: Refusal.EXCEPTION_3,
    4: Refusal.EXCEPTION_4,
    5: Refusal.EXCEPTION_5,
    6: Refusal.EXCEPTION_6,
    8: Refusal.EXCEPTION_8,
    10: Refusal.EXCEPTION_10,
    11: Refusal.EXCEPTION_11,
}


def question(table: Table, register: int, count: int) -> bytes:
    """The question for `count` registers from the 0-based address `register` on.

    >>> question("holding", 0x6B, 3).hex(" ")
    '03 00 6b 00 03'
    """
    return struct.pack(">BHH", FUNCTIONS[table], register, count)


def answer(pdu: bytes, table: Table, count: int) -> bytes | Refused:
    r"""The bytes of the registers that were asked for, two each, or why they are not there.

    >>> answer(b"\x03\x04\x02\xbc\x00\xfa", "holding", 2).hex(" ")
    '02 bc 00 fa'
    >>> answer(b"\x83\x02", "holding", 2).refusal
    <Refusal.EXCEPTION_2: 'exception reply 2, illegal data address'>
    """
    function = FUNCTIONS[table]
    if len(pdu) == 2 and pdu[0] == function | _EXCEPTION:
        return Refused(_EXCEPTIONS.get(pdu[1], Refusal.EXCEPTION), f"code {pdu[1]}")
    if len(pdu) != 2 + 2 * count or pdu[0] != function or pdu[1] != 2 * count:
        return Refused(Refusal.UNFIT, shown(pdu.hex(" ")))
    return pdu[2:]


def frame_length(head: bytes) -> int | None:
    """How long the frame that begins with `head` is (unit, answer, two bytes of check sum); None: too early to say."""
    if len(head) < 3:
        return None
    return 5 if head[1] & _EXCEPTION else 5 + head[2]
