"""What the links with a thread of their own have in common: they open again and again what went away."""

from __future__ import annotations

import re
import termios
import threading
from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from typing import Final

from dawnline.probes.intake import Intake, Receipt
from dawnline.probes.links.link import LinkReport
from dawnline.probes.links.tally import Tally

_NUMBER: Final = re.compile(r"\[Errno -?\d+\] ")  # which pyserial says twice, and nobody needs

BACKOFF_S: Final = (0.5, 30.0)  # first and longest pause between two attempts to open; machine time
# A port that was just unplugged raises termios.error, which is no OSError; serial.SerialException is one.
GONE: Final = (OSError, termios.error)


class ThreadLink(ABC):
    """A link to something on this machine. It wants no acknowledgements."""

    window: int | None = None

    def __init__(self, name: str, intake: Intake) -> None:
        self.name = name
        self._intake = intake
        self._tally = Tally(name)
        self._stop = threading.Event()
        self._pause_s = BACKOFF_S[0]
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def pressing(self) -> bool:
        """Nobody waits for acknowledgements."""
        return False

    def let_go(self, receipts: Sequence[Receipt]) -> Sequence[Receipt]:
        """There are none."""
        return ()

    def all_heard(self) -> bool:
        """Nothing is overheard here."""
        return True

    def start(self) -> None:
        """Begin; what is not there is waited for."""
        self._thread.start()

    def stop(self) -> None:
        """End; returns within 2 s (machine time), even where a read hangs in the kernel."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(1.9)
        self._tally.stopped()

    def report(self) -> LinkReport:
        """How it is doing."""
        return self._tally.report()

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:  # noqa: B027  there is nothing to do
        """Nothing to do: a device on a wire knows no acknowledgement."""

    @abstractmethod
    def session(self) -> None:
        """Open it, say `opened`, then read until the link is stopped. May raise what `GONE` names."""

    def opened(self) -> None:
        """It is there."""
        self._tally.connected()
        self._pause_s = BACKOFF_S[0]

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self.session()
            except GONE as error:
                self._tally.lost(_NUMBER.sub("", str(error)))
            except Exception as error:  # noqa: BLE001  the thread must outlive a bug
                self._tally.lost(f"{type(error).__name__}: {error}")
            self._stop.wait(self._pause_s)
            self._pause_s = min(2 * self._pause_s, BACKOFF_S[1])
