"""What the operating system knows of its own clock: which boot this is, and whether anything has set the time.

Every answer may be missing (a container, another system); what cannot be learnt is never an error.
"""

from __future__ import annotations

import ctypes
import os
import uuid
from pathlib import Path
from typing import Final

from dawnline.service.clock import uptime_ms

BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")  # random(4)
RTC: Final = Path("/sys/class/rtc")
STA_UNSYNC: Final = 0x0040  # adjtimex(2)
# Where programs that set the clock are seen to run, as Debian installs them; from memory.
SETTERS: Final = tuple(
    Path("/run", name)
    for name in ("systemd/timesync", "chrony", "chronyd.pid", "ntpd.pid", "ntpd", "ntpsec", "openntpd.sock")
)


class Machine:
    """The machine that this process runs on. `mark` is the file that says that the clock has been set."""

    def __init__(self, mark: Path) -> None:
        self.mark = mark

    def boot(self) -> str:
        """A name of this boot, the same for every process; a name of this process where there is none."""
        try:
            return BOOT_ID.read_text(encoding="ascii").strip()
        except (OSError, ValueError):
            return _PROCESS

    def uptime_ms(self) -> int:
        """Milliseconds that only go forward, since this boot or some other moment in it."""
        return uptime_ms()

    def marked(self) -> bool:
        """Whether the file is there that says so."""
        return os.path.lexists(self.mark)

    def synchronised(self) -> bool:
        """Whether the kernel has been told by a time service that its clock is right."""
        status = _kernel_status()
        return status is not None and not status & STA_UNSYNC

    def kept_time(self) -> bool:
        """Whether a clock with a battery gave the time at boot (`hctosys`: Linux, ABI/testing/sysfs-class-rtc)."""
        try:
            return any(each.read_text(encoding="ascii").strip() == "1" for each in RTC.glob("*/hctosys"))
        except (OSError, ValueError):
            return False

    def will_be_set(self) -> bool:
        """Whether a program is at work that sets the clock when it can."""
        return any(os.path.lexists(each) for each in SETTERS)


_PROCESS: Final = f"process-{uuid.uuid4().hex}"


class _Timex(ctypes.Structure):
    """The head of `struct timex` (adjtimex(2)), with room for its tail."""

    _fields_ = (
        ("modes", ctypes.c_uint),
        *((name, ctypes.c_long) for name in ("offset", "freq", "maxerror", "esterror")),
        ("status", ctypes.c_int),
        ("tail", ctypes.c_long * 60),
    )


def _kernel_status() -> int | None:
    """The status bits of adjtimex(2), asked without a change; None where this may not or cannot be asked."""
    asked = _Timex()
    try:
        answer = ctypes.CDLL(None).adjtimex(ctypes.byref(asked))
    except (AttributeError, OSError, MemoryError):
        return None
    return None if answer == -1 else int(asked.status)
