"""What the links that ask have in common: they ask in turn."""

from __future__ import annotations

import time
from abc import abstractmethod
from collections.abc import Iterable
from typing import Final, Generic, TypeVar

from dawnline.probes.dialects.value import Refusal, Refused
from dawnline.probes.intake import Arrival, Intake
from dawnline.probes.links.thread_link import GONE, ThreadLink
from dawnline.probes.links.timetable import Timetable, Turn

# An empty 1-Wire file: the kernel could not reach the device, and took its time to find out.
_SILENT: Final = {Refusal.NO_ANSWER, Refusal.NOT_THERE, Refusal.EMPTY}

Asked = TypeVar("Asked")


class PollingLink(ThreadLink, Generic[Asked]):
    """Asks each of `turns` in its time and puts what it says into the intake: a `session` opens it, then polls."""

    def __init__(self, name: str, turns: Iterable[Turn[Asked]], intake: Intake) -> None:
        super().__init__(name, intake)
        self._timetable = Timetable(list(turns))

    @abstractmethod
    def ask(self, what: Asked) -> tuple[str, float | Refused] | None:
        """Ask once: the probe and its value or refusal. None where the link is being stopped. May raise `GONE`."""

    def opened(self) -> None:
        """It is there: say so, and ask everybody anew."""
        super().opened()
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
