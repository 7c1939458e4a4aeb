"""The serial link: one thread a port, shared by the probes on it.

The first fragment after opening may be the end of a line ("17.12" read as "7.12"), so it is discarded and
counted as cut short, unless the port was silent for half a second after opening: a line that begins after
silence is whole. What is left unfinished when the port goes away is discarded and counted too.
"""

from __future__ import annotations

import time
from collections.abc import Sequence

import serial

from dawnline.probes.dialects.routing import Route, Routing
from dawnline.probes.dialects.text import Splitter, read_line
from dawnline.probes.dialects.value import Refusal, Refused
from dawnline.probes.intake import Arrival, Intake
from dawnline.probes.links.thread_link import ThreadLink

READ_TIMEOUT_S = 0.2  # also how soon a stop is noticed; machine time, as the next two
SILENCE_S = 0.5  # far over the pause between two bytes of a line, even of a slow device
STALL_S = 1.0  # a queue full for longer than this may have cost bytes, once the kernel's buffer was full
KERNEL_BUFFER_BYTES = 4095  # Linux n_tty holds 4096, one of them never filled (from memory)
READ_BYTES = 4096


class SerialLink(ThreadLink):
    """Reads lines from `port` into the intake. What is not read is lost."""

    def __init__(self, port: str, baud: int, routes: Sequence[Route], intake: Intake) -> None:
        super().__init__(f"serial:{port}", intake)
        self._port, self._baud = port, baud
        self._routing = Routing(routes)

    def session(self) -> None:
        """As `ThreadLink.session`."""
        with self._open() as port:
            self.opened()
            self._read(port)

    def _open(self) -> serial.Serial:
        # exclusive: two readers on one port would tear each other's lines apart.
        return serial.Serial(self._port, self._baud, timeout=READ_TIMEOUT_S, exclusive=True)

    def _read(self, port: serial.Serial) -> None:
        opened_s = time.monotonic()
        splitter: Splitter | None = None
        try:
            while not self._stop.is_set():
                chunk = port.read(min(max(1, port.in_waiting), READ_BYTES))
                if not chunk:
                    continue
                self._tally.heard()
                if splitter is None:
                    splitter = Splitter(mid_line=time.monotonic() - opened_s < SILENCE_S)
                took_s = self._handle(splitter.feed(chunk))
                if took_s > STALL_S and port.in_waiting >= KERNEL_BUFFER_BYTES:
                    port.reset_input_buffer()
                    self._tally.refused(splitter.close() or Refused(Refusal.CUT, "all that the port held"))
                    splitter = Splitter(mid_line=True)
        finally:
            if splitter is not None and (rest := splitter.close()) is not None:
                self._tally.refused(rest)

    def _handle(self, lines: list[bytes | Refused]) -> float:
        """Take each line; how long that took (s), which is long where the queue was full."""
        began_s = time.monotonic()
        for line in lines:
            try:
                self._take(line)
            except Exception as error:  # noqa: BLE001  it costs this line, not the port
                self._tally.fault(error)
        return time.monotonic() - began_s

    def _take(self, line: bytes | Refused) -> None:
        fields = line if isinstance(line, Refused) else read_line(line)
        if isinstance(fields, Refused):
            self._tally.refused(fields)
            return
        routed = self._routing.route(fields)
        self._tally.unknown(routed.unknown)
        for refused in routed.refused:
            self._tally.refused(refused)
        if not routed.values:
            return
        self._tally.good()
        if not self._intake.put(Arrival(self.name, routed.values), stopped=self._stop.is_set):
            self._tally.dropped()
