"""Lets raw readings go that were kept long enough, a little at once and only while nothing else is to be done.

Long enough is by the clock, and by the days on which something was recorded: a clock wrong by years lets nothing
go early, and a board that was away for months keeps its readings for as much longer.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, Final

import structlog

from dawnline.duration import DAY_MS
from dawnline.store.store import Store

# Machine time between steps. While there is much to let go (the setting is new) that is 1.8 million readings an hour;
# in the long run it is a step a day and probe, with as many readings as a day brings.
BACKLOG_S: Final = 10.0
LOOK_S: Final = 86_400.0
AGAIN_S: Final = 600.0  # what waits for the copy elsewhere

_log = structlog.get_logger(__name__)


class Retention:
    """`keep_raw` in ms, None for ever. `copied` gives the time of arrival [ms] up to which readings are at the central
    store for certain, None where there is none.
    """

    def __init__(
        self,
        keep_raw: int | None,
        copied: Callable[[], int | None] = lambda: None,
        monotonic_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._keep_raw, self._copied, self._monotonic_s = keep_raw, copied, monotonic_s
        self._next_s = monotonic_s() + BACKLOG_S
        self._waiting: int | None = None
        self.gone = 0  # since the start

    def turn(self, store: Store, now: int) -> None:
        """A step, if it is time; `now` is pond time [ms]. Raises StoreError with nothing changed."""
        if self._monotonic_s() < self._next_s:
            return
        self._next_s = self._monotonic_s() + AGAIN_S
        copied = self._copied()
        step = store.let_go(self._before(store, now), copied)
        if step.waiting is not None and self._waiting is None:
            _log.warning("raw-readings-wait", why="they are to be copied to the central store before they are let go")
        self._waiting = step.waiting
        if step.gone:
            self.gone += step.gone
            self._next_s = self._monotonic_s() + BACKLOG_S
        elif step.waiting is None:
            self._next_s = self._monotonic_s() + LOOK_S

    def _before(self, store: Store, now: int) -> int:
        """Up to when [ms] readings may go. The clock alone does not say: one that is far ahead must cost nothing."""
        if self._keep_raw is None:
            return 0
        return min(now - self._keep_raw, store.recorded_since(-(-self._keep_raw // DAY_MS)))

    def as_json(self) -> dict[str, Any]:
        """For `status`; `waiting` is the time [ms] of the oldest reading that waits for its copy."""
        return {"keep_raw_ms": self._keep_raw, "gone": self.gone, "waiting": self._waiting}
