"""Pond time: the only place that asks the operating system what time it is.

`DAWNLINE_CLOCK_RATE` makes pond time run faster for the demo and the tests. It is either a rate ("60": a minute a
second, beginning now or, with a store, where its record ends), or a rate with both origins,
`RATE@POND_TIME@UNIX_SECONDS`, by which several processes share one clock.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC
from typing import Final

from dawnline.duration import parse_time, show_duration
from dawnline.errors import SettingsError
from dawnline.service.clock_trust import BEHIND_MS

CATCHING_UP: Final = 0.9  # of the usual pace: an hour is made up in ten, and a delay of 10 min lasts 11
VARIABLE: Final = "DAWNLINE_CLOCK_RATE"


@dataclass(frozen=True, slots=True)
class PondClock:
    """Pond time [Unix ms] = `pond_origin` + (wall - `wall_origin`) * `rate`."""

    rate: float = 1.0
    pond_origin: int = 0
    wall_origin: float = 0.0
    shared: bool = False  # the origins were given: do not move them

    def now(self) -> int:
        """Pond time now [Unix ms]."""
        if not self.scaled:
            return time.time_ns() // 1_000_000
        return self.pond_origin + round((time.time() - self.wall_origin) * 1000 * self.rate)

    @property
    def scaled(self) -> bool:
        """Whether pond time is not the machine's."""
        return self.rate != 1.0 or self.shared

    def going_on_from(self, last: int | None) -> PondClock:
        """This clock, or, where it is scaled from now on and the record lies ahead, one that goes on from there."""
        if self.rate == 1.0 or self.shared or last is None or last < self.now():
            return self
        return PondClock(self.rate, last, time.time())

    def machine_seconds(self, pond_ms: float) -> float:
        """How long `pond_ms` of pond time take on the machine [s]."""
        return pond_ms / 1000 / self.rate


class SteadyClock:
    """A pond clock that never runs backward: what the service lives by.

    Where the machine's clock is set back, or stands behind the end of the record at start (a board without a clock of
    its own), pond time goes on from where it was, a little slower than usual, until the clock has caught up: delays
    elapse, the watch goes on, and no error of the clock stays in the record for good. `behind_ms` says by how much the
    clock lies behind.
    """

    def __init__(
        self, clock: PondClock, last: int | None = None, monotonic_s: Callable[[], float] = time.monotonic
    ) -> None:
        self._clock = clock
        self._monotonic_s = monotonic_s
        self._lock = threading.Lock()
        self._at: float = clock.now() if last is None else max(last, clock.now())
        self._at_s = monotonic_s()
        self.behind_ms = 0

    @property
    def rate(self) -> float:
        """Pond seconds in a second."""
        return self._clock.rate

    def now(self) -> int:
        """Pond time now [Unix ms]."""
        with self._lock:
            clock, now_s = self._clock.now(), self._monotonic_s()
            usual = (now_s - self._at_s) * 1000 * self.rate
            self._note(round(self._at + usual - clock))
            self._at = self._at + usual * CATCHING_UP if self.behind_ms else clock
            self._at_s = now_s
            return round(self._at)

    def _note(self, behind: int) -> None:
        before, self.behind_ms = self.behind_ms, behind if behind > BEHIND_MS * self.rate else 0
        if bool(before) == bool(self.behind_ms):
            return
        import structlog  # here: `status` asks this file for the time, and starts faster without

        log = structlog.get_logger(__name__)
        if self.behind_ms:
            log.warning("clock-behind-the-record", by=show_duration(behind), remedy="synchronise it")
        else:
            log.info("clock-has-caught-up")

    def machine_seconds(self, pond_ms: float) -> float:
        """As `PondClock.machine_seconds`."""
        return self._clock.machine_seconds(pond_ms)


def uptime_ms() -> int:
    """Milliseconds since boot, sleep included (CLOCK_BOOTTIME, clock_gettime(2)); elsewhere the monotonic clock's."""
    return time.clock_gettime_ns(getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)) // 1_000_000


def wall_s() -> float:
    """The machine's own time of day [Unix s], for marks that other processes compare."""
    return time.time()


def from_environment(environment: Mapping[str, str] = os.environ) -> PondClock:
    """The clock that the environment asks for. Raises SettingsError where the variable cannot be read."""
    text = environment.get(VARIABLE, "").strip()
    if not text:
        return PondClock()
    rate, *origins = text.split("@")
    now = time.time()
    try:
        clock = PondClock(float(rate), round(now * 1000), now)
        if len(origins) == 2:
            clock = PondClock(float(rate), parse_time(origins[0], UTC), float(origins[1]), shared=True)
    except ValueError:
        clock = PondClock(rate=0.0)
    if not 0 < clock.rate <= 1e6 or len(origins) not in (0, 2):
        raise SettingsError(f"{VARIABLE}: found {text!r}; expected a rate such as 60, or RATE@POND_TIME@UNIX_SECONDS")
    return clock
