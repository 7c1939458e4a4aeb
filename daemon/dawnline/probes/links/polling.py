"""What the links that ask have in common: a thread that asks in turn, and opens again what went away."""

from __future__ import annotations

import termios
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Iterable, Sequence
from typing import Final, Generic, TypeVar

from dawnline.probes.dialects.value import Refusal, Refused
from dawnline.probes.intake import Arrival, Intake, Receipt
from dawnline.probes.links.link import LinkReport
from dawnline.probes.links.tally import Tally
from dawnline.probes.links.timetable import Timetable, Turn

BACKOFF_S: Final = (0.5, 30.0)  # first and longest pause between two attempts to open; machine time
# A port that was just unplugged raises termios.error, which is no OSError; serial.SerialException is one.
GONE: Final = (OSError, termios.error)
# An empty 1-Wire file: the kernel could not reach the device, and took its time to find out.
_SILENT: Final = {Refusal.NO_ANSWER, Refusal.NOT_THERE, Refusal.EMPTY}

Asked = TypeVar("Asked")


class PollingLink(ABC, Generic[Asked]):
    """Asks each of `turns` in its time and puts what it says into the intake. It wants no acknowledgements."""

    window: int | None = None

    def __init__(self, name: str, turns: Iterable[Turn[Asked]], intake: Intake) -> None:
        self.name = name
        self._timetable = Timetable(list(turns))
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

    def acknowledge(self, receipts: Iterable[Receipt]) -> None:
        """Nothing to do: a device that is asked knows no acknowledgement."""

    @abstractmethod
    def session(self) -> None:
        """Open what is asked, say `opened`, then `poll` until that returns. May raise what `GONE` names."""

    @abstractmethod
    def ask(self, what: Asked) -> tuple[str, float | Refused] | None:
        """Ask once: the probe and its value or refusal. None where the link is being stopped. May raise `GONE`."""

    def opened(self) -> None:
        """It is there: say so, and ask everybody anew."""
        self._tally.connected()
        self._pause_s = BACKOFF_S[0]
        self._timetable.restart()

    def poll(self) -> None:
        """Ask in turn until the link is stopped."""
        while not self._stop.is_set():
            turn = self._timetable.next()
            wait_s = turn.due_s - time.monotonic()
            if wait_s > 0:
                self._stop.wait(wait_s)
                continue
            spoke = self._answered(turn.what)
            settle = self._timetable.answered if spoke else self._timetable.silent
            settle(turn, time.monotonic())

    def _answered(self, what: Asked) -> bool:
        try:
            found = self.ask(what)
        except GONE:
            raise
        except Exception as error:  # noqa: BLE001  it costs this question, not the bus
            self._tally.fault(error)
            return True
        if found is None:
            return False
        probe, value = found
        answers = not (isinstance(value, Refused) and value.refusal in _SILENT)
        self._tally.asked(probe, answers=answers)
        if isinstance(value, Refused):
            self._tally.refused(value)
            return answers
        self._tally.good()
        if not self._intake.put(Arrival(self.name, ((probe, value, None),)), stopped=self._stop.is_set):
            self._tally.dropped()
        return True

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self.session()
            except GONE as error:
                self._tally.lost(str(error))
            except Exception as error:  # noqa: BLE001  the thread must outlive a bug
                self._tally.lost(f"{type(error).__name__}: {error}")
            self._stop.wait(self._pause_s)
            self._pause_s = min(2 * self._pause_s, BACKOFF_S[1])
