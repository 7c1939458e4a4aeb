"""One RS-485 bus: an open port, and the question-and-answer of Modbus RTU on it.

Bytes are moved by pyserial. pymodbus's own blocking client is not used: its waiting goes by the wall clock, and a
wrong check sum looks to its caller like silence.

A late answer looks like the answer to the next question: the protocol has no numbers by which to tell. So the
port is emptied, and silent for a while, before each question, and whoever was silent is not asked again at once.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from types import TracebackType
from typing import Final, Literal

import serial

from dawnline.probes.dialects.value import Refused
from dawnline.probes.links.rtu import answer_in, complaint, framed

ANSWER_S: Final = 1.0  # common practice, no source: devices answer within 0.3 s; all times here are machine time
SILENCE_S: Final = 0.1  # ends an answer; far over the protocol's 3.5 characters and the latency of a USB adaptor
BEFORE_S: Final = 0.02  # the same before a question, where the bus is quiet anyway
MOST_BYTES: Final = 512  # two frames of the longest kind (256 bytes: Modbus over Serial Line V1.02, section 2.5.1)
CHARACTER_BITS: Final = 11  # start, eight data bits, parity or a second stop bit, stop


@dataclass(frozen=True, slots=True)
class Line:
    """How the port is set. Eight data bits always: Modbus RTU has no other."""

    port: str
    baud: int = 9600
    parity: Literal["none", "even", "odd"] = "none"
    stopbits: int = 1


class Bus(AbstractContextManager["Bus"]):
    """An open port. `stopped` is asked ten times a second whether to give up.

    Raises OSError (serial.SerialException is one) or termios.error where the port is not there, or gone.
    """

    def __init__(self, line: Line, stopped: Callable[[], bool]) -> None:
        self._stopped = stopped
        self._character_s = CHARACTER_BITS / line.baud
        self._port = serial.Serial(
            line.port,
            line.baud,
            parity=line.parity[0].upper(),
            stopbits=line.stopbits,
            timeout=max(SILENCE_S, 3.5 * self._character_s),
            write_timeout=ANSWER_S,
            exclusive=True,  # a second master would talk into our questions
        )

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._port.close()

    def ask(self, unit: int, pdu: bytes, answer_bytes: int) -> bytes | Refused | None:
        """The answer of `unit` to `pdu`, without its frame, or why there is none; None where stopped meanwhile.

        `answer_bytes` is the length of the frame that should come.
        """
        request = framed(unit, pdu)
        time.sleep(max(BEFORE_S, 3.5 * self._character_s))
        self._port.reset_input_buffer()
        self._port.write(request)
        until_s = time.monotonic() + ANSWER_S + (len(request) + answer_bytes) * self._character_s
        heard = b""
        while not self._stopped():
            part = self._port.read(max(1, min(self._port.in_waiting, MOST_BYTES)))
            heard += part
            if (found := answer_in(heard, request)) is not None:
                return found
            # An echo alone is no answer that has ended.
            ended = heard and not part and not request.startswith(heard)
            if ended or len(heard) > MOST_BYTES or time.monotonic() > until_s:
                return complaint(heard, request)
        return None
