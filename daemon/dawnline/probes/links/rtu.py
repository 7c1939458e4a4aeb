"""Frames of Modbus RTU: a question in its frame, and the answer among whatever was heard.

Frame and check sum are pymodbus's. Its own decoder stops at the first bytes that look like a frame; here the answer
is looked for wherever it may begin, so that noise before it costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU

from dawnline.probes.dialects.modbus import frame_length
from dawnline.probes.dialects.value import Refusal, Refused, shown

_FRAMER: Final = FramerRTU(DecodePDU(False))


def framed(unit: int, pdu: bytes) -> bytes:
    """A question as it goes over the wire.

    >>> framed(1, bytes.fromhex("03 00 00 00 0A")).hex(" ")
    '01 03 00 00 00 0a c5 cd'
    """
    return bytes(_FRAMER.encode(pdu, unit, 0))


def answer_in(heard: bytes, request: bytes) -> bytes | None:
    """The answer to `request`, without its frame, wherever it begins in `heard`; None where it is not there (yet)."""
    for start in _starts(heard, request):
        length = frame_length(heard[start:])
        if length is not None and start + length <= len(heard):
            _, unit, _, pdu = _FRAMER.decode(heard[start : start + length])
            if pdu and unit == request[0]:
                return bytes(pdu)
    return None


def complaint(heard: bytes, request: bytes) -> Refused:
    """What is wrong with `heard`, where no answer to `request` is in it."""
    heard = heard.removeprefix(request)
    if not heard:
        return Refused(Refusal.NO_ANSWER, "")
    start = next(_starts(heard, request), None)
    if start is None:
        return Refused(Refusal.NO_FRAME, shown(heard.hex(" ")))
    length = frame_length(heard[start:])
    whole = length is not None and start + length <= len(heard)
    return Refused(Refusal.CHECKSUM if whole else Refusal.CUT, shown(heard[start:].hex(" ")))


def _starts(heard: bytes, request: bytes) -> Iterator[int]:
    """Where an answer, or an exception reply, to this request may begin. Some adaptors send us an echo first."""
    first = len(request) if heard.startswith(request) else 0
    heads = (request[:2], bytes([request[0], request[1] | 0x80]))
    return (i for i in range(first, len(heard) - 1) if heard[i : i + 2] in heads)
