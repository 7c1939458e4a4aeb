"""What the service lives by: provisional time, counted by the uptime, until the clock is known; then a steady clock."""

from __future__ import annotations

from typing import Protocol

import structlog

from dawnline.clock_settings import Trust
from dawnline.duration import show_duration
from dawnline.service.clock import PondClock, SteadyClock
from dawnline.service.clock_trust import EARLIEST_MS, Evidence, Judgement, judge
from dawnline.store.provisional import Stretch

_log = structlog.get_logger(__name__)


class BootedMachine(Evidence, Protocol):
    """A machine that also counts its uptime."""

    def boot(self) -> str: ...  # noqa: D102
    def uptime_ms(self) -> int: ...  # noqa: D102


class BootClock:
    """Pond time of one boot.

    `record_end` is the end of the dated record [ms], None in a new store; `stretch` the provisional time that a run
    before this one in the same boot began; `known_before` whether such a run knew the clock to be set. Afterwards
    `stretch` is None where the clock is set.
    """

    def __init__(
        self,
        clock: PondClock,
        machine: BootedMachine,
        trust: Trust,
        record_end: int | None,
        stretch: Stretch | None = None,
        *,
        known_before: bool = False,
    ) -> None:
        self._clock = clock.going_on_from(record_end)
        self._machine, self._trust, self._record_end = machine, trust, record_end
        self._began_ms = self._ahead_ms()
        self.stretch = stretch
        if stretch is None and not known_before and not self.known():
            since = EARLIEST_MS if record_end is None else record_end + 1
            self.stretch = Stretch(machine.boot(), since, since - machine.uptime_ms())
            _log.warning("clock-not-set", why=self._judged().why, meanwhile="times are provisional")
        self._steady = None if self.stretch else self._steady_from(record_end)

    @property
    def rate(self) -> float:
        """Pond seconds in a second."""
        return self._clock.rate

    @property
    def behind_ms(self) -> int:
        """By how much the machine's clock lies behind pond time, where that goes on from the record."""
        return self._steady.behind_ms if self._steady else 0

    def now(self) -> int:
        """Pond time now [Unix ms]; it never runs backward, but for `turn`."""
        if self._steady is not None:
            return self._steady.now()
        assert self.stretch is not None
        return self._machine.uptime_ms() + self.stretch.offset

    def machine_seconds(self, pond_ms: float) -> float:
        """How long `pond_ms` of pond time take on the machine [s]."""
        return self._clock.machine_seconds(pond_ms)

    def known(self) -> bool:
        """Whether the machine's clock is known to be set now."""
        return self._clock.scaled or self._judged().known

    def turn(self) -> int:
        """The clock is known: from now on time is true. Returns by how much it lies later than provisional time [ms].

        It is never earlier: the record ended after the truth then, and time goes on from it as it does after any clock
        was set back.
        """
        assert self.stretch is not None
        provisional = self.now()
        by = max(0, self._clock.now() - provisional)
        self._steady = self._steady_from(provisional + by)
        self.stretch = None
        _log.info("clock-set", why=self._judged().why, provisional_time_was_behind=show_duration(by))
        return by

    def _steady_from(self, last: int | None) -> SteadyClock:
        return SteadyClock(self._clock, last, lambda: self._machine.uptime_ms() / 1000)

    def _judged(self) -> Judgement:
        step = self._ahead_ms() - self._began_ms
        return judge(self._machine, self._trust, self._clock.now(), self._record_end, step)

    def _ahead_ms(self) -> int:
        """The clock less the uptime: it changes only where the clock is set."""
        return self._clock.now() - self._machine.uptime_ms()
