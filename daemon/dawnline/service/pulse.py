"""Proof of life: who watches the watch is told that all is well only while it is.

The watch is well while the core turns and readings flow, or while their absence is an alarm and so in somebody's hands.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import structlog

from dawnline.delivery.heartbeat import Heartbeat
from dawnline.duration import MINUTE_MS
from dawnline.outlook.finding import Condition
from dawnline.pipeline import Pipeline

GRACE_MS: Final = 10 * MINUTE_MS  # pond time by which an alarm about a silence must have been raised

_log = structlog.get_logger(__name__)


def unnoticed(pipeline: Pipeline) -> str | None:
    """The probe that is silent without an alarm that says so or hides it on purpose; None where there is none."""
    before = pipeline.now - GRACE_MS
    for name, watch in pipeline.watches.items():
        silence = watch.silence
        if silence.heard_at is None or watch.out_until > before:
            continue
        if silence.condition(before, watch.judge.order.interval) is Condition.MET:
            memory = pipeline.desk.memory.get(("no-data", name))
            if memory is None or not (memory.timing.active or memory.unjudged):
                return name
    return None


class Pulse:
    """`beat` is called by the core about once a second; systemd's watchdog and the heartbeat hear of it."""

    def __init__(self, watchdog: Callable[[], None], heartbeat: Heartbeat | None) -> None:
        self.heartbeat = heartbeat
        self._watchdog = watchdog
        self._withheld = False

    def beat(self, pipeline: Pipeline) -> None:
        """Say that all is well, where it is."""
        silent = unnoticed(pipeline)
        if silent is None:
            self._watchdog()
            if self.heartbeat is not None:
                self.heartbeat.alive()
        elif not self._withheld:
            _log.error("silent-and-nobody-told", probe=silent, remedy="the watchdog is no longer fed")
        self._withheld = silent is not None
