"""The 1-Wire link: thermometers that the kernel shows as files, one thread for all of them.

Reading such a file makes the device measure, which takes three quarters of a second; on a bad bus it may hang
in the kernel, where nothing can interrupt it. Then the thread is left behind and the report says so.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from dawnline.probes.dialects.value import Refusal, Refused, shown
from dawnline.probes.dialects.w1_slave import MAX_BYTES, decode
from dawnline.probes.intake import Intake
from dawnline.probes.links.link import LinkReport
from dawnline.probes.links.polling import PollingLink
from dawnline.probes.links.timetable import Turn

HANGS_S: Final = 10.0  # machine time; ten times what a measurement takes


class DeviceRead(NamedTuple):
    """One probe: its file, such as /sys/bus/w1/devices/28-0316a2795e7b/w1_slave."""

    probe: str
    path: Path
    interval_s: float


class OneWireLink(PollingLink[DeviceRead]):
    """Reads the files of `reads`, each in its interval. It is connected while one of them at least can be read."""

    def __init__(self, folder: Path, reads: Sequence[DeviceRead], intake: Intake) -> None:
        super().__init__(f"onewire:{folder}", (Turn(read, read.interval_s, group=read) for read in reads), intake)
        self._there: set[str] = set()
        self._reading: tuple[DeviceRead, float] | None = None

    def session(self) -> None:
        """There is nothing to open: poll."""
        self._timetable.restart()
        self.poll()

    def ask(self, what: DeviceRead) -> tuple[str, float | Refused] | None:
        """Read one file."""
        self._reading = what, time.monotonic()
        try:
            with what.path.open("rb", buffering=0) as file:
                content = file.read(MAX_BYTES + 1) or b""
        except OSError as error:
            return what.probe, self._missing(what, error)
        finally:
            self._reading = None
        if self._stop.is_set():  # it may have hung until long after
            return None
        self._there.add(what.probe)
        self._tally.connected()
        self._tally.heard()
        found = decode(content)
        if isinstance(found, Refused):
            found = Refused(found.refusal, shown(f"{what.path.parent.name}: {found.text}"), what.probe)
        return what.probe, found

    def report(self) -> LinkReport:
        """How it is doing; `waiting` where a read hangs."""
        report, reading = super().report(), self._reading
        if reading is None or report.state == "stopped":
            return report
        what, since_s = reading
        lasting_s = time.monotonic() - since_s
        if lasting_s < HANGS_S:
            return report
        return replace(report, state="waiting", last_error=f"reading {what.path} hangs since {lasting_s:.0f} s")

    def _missing(self, what: DeviceRead, error: OSError) -> Refused:
        self._there.discard(what.probe)
        why = error.strerror or type(error).__name__
        if not self._there:
            self._tally.lost(f"{what.path}: {why}")
        return Refused(Refusal.NOT_THERE, shown(f"{what.path.parent.name}: {why}"), what.probe)
