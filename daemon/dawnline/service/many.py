"""Many ponds in one process: a thread for each, what they share, and the watchdog over all of them.

A pond whose store cannot be opened, or whose watch ends by a fault, is tried again by itself, and the others go on: its
heartbeat stays away meanwhile, and `status` says that nobody watches it. systemd's watchdog is for what cannot be
mended in here: it is fed while every watch that turns gives its sign of life, so a fold that hangs has the process
started again; a pond that is down, or whose probes are silent, does not.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from contextlib import ExitStack
from typing import ClassVar, Final

import structlog

from dawnline.errors import DawnlineError
from dawnline.service.brokers import Brokers
from dawnline.service.core import LONGEST_WAIT_S
from dawnline.service.many_files import allow_files
from dawnline.service.pond import open_pond, turn
from dawnline.service.stop import Stop
from dawnline.settings import Settings
from dawnline.systemd import notify

AGAIN_S: Final = (1.0, 60.0)  # machine time: first and longest pause before a pond is tried again
LASTED_S: Final = 600.0  # a watch that turned for so long begins with the first pause again
STALLED_S: Final = 30.0  # without a sign of life
GUARD_S: Final = 0.5
OPENERS: Final = 8  # that are opened at the same time: more would only be in each other's way
OPENED_WITHIN_S: Final = 10.0  # what takes longer (a large store is checked) joins later
END_WITHIN_S: Final = 8.0
LINGER_S: Final = 0.1
# What each pond does by the clock, all of them together and a second: looks for acts, and writes of the present.
LOOKS: Final = 200
PRESENTS: Final = 20
LOOK_WITHIN_S: Final = 1.0
PRESENT_WITHIN_S: Final = 10.0  # `status` takes a present older than 15 s for a sign of death

_log = structlog.get_logger(__name__)


class Watch:
    """The thread of one pond. `alive_s` is its last sign of life (monotonic), None while it does not turn."""

    opening: ClassVar = threading.BoundedSemaphore(OPENERS)

    def __init__(self, settings: Settings, brokers: Brokers, stopping: threading.Event, of: int) -> None:
        self.settings = settings
        self._present_every_s = min(PRESENT_WITHIN_S, max(1.0, of / PRESENTS))
        self._look_every_s = min(LOOK_WITHIN_S, max(LONGEST_WAIT_S, of / LOOKS))
        self.tried = threading.Event()  # it turns, or could not be opened
        self.alive_s: float | None = None
        self._brokers, self._stopping = brokers, stopping
        self.thread = threading.Thread(target=self._run, name=settings.pond.name[:15], daemon=True)

    def _run(self) -> None:
        structlog.contextvars.bind_contextvars(pond=self.settings.pond.name)
        pause_s = AGAIN_S[0]
        while not self._stopping.is_set():
            began_s = time.monotonic()
            try:
                self._watch()
            except DawnlineError as error:
                _log.error("pond-not-watched", why=str(error), again_in_s=pause_s)
            except Exception:  # noqa: BLE001  a fault in one pond's watch is no reason to end the others
                _log.exception("pond-not-watched", again_in_s=pause_s)
            finally:
                self.alive_s = None
                self.tried.set()
            if time.monotonic() - began_s > LASTED_S:
                pause_s = AGAIN_S[0]
            self._stopping.wait(pause_s)
            pause_s = min(2 * pause_s, AGAIN_S[1])

    def _watch(self) -> None:
        with ExitStack() as stack:
            with self.opening:
                core = open_pond(self.settings, stack, self._brokers, self._alive)
            core.linger_s, core.look_every_s, core.present_every_s = LINGER_S, self._look_every_s, self._present_every_s
            turn(core, self.settings, self._stopping.is_set, self._turns)

    def _alive(self) -> None:
        self.alive_s = time.monotonic()

    def _turns(self) -> None:
        self._alive()
        self.tried.set()

    def stalled(self, now_s: float) -> bool:
        """Whether it turns no longer, and has not ended either."""
        alive_s = self.alive_s
        return alive_s is not None and now_s - alive_s > STALLED_S


def watch_all(ponds: Sequence[Settings], stop: Stop) -> None:
    """Watch all of them until told to stop. Raises SettingsError before any has begun."""
    allow_files(len(ponds))
    brokers, stopping = Brokers(ponds), threading.Event()
    watches = [Watch(each, brokers, stopping, len(ponds)) for each in ponds]
    stop.turning = True
    for watch in watches:
        watch.thread.start()
    _await_opened(watches, stop)
    brokers.start()
    notify("READY=1")
    _log.info("watching-many", ponds=len(ponds), not_yet=[w.settings.pond.name for w in watches if w.alive_s is None])
    _guard(watches, stop)
    brokers.stop_taking()
    stopping.set()
    until_s = time.monotonic() + END_WITHIN_S
    for watch in watches:
        watch.thread.join(max(0.0, until_s - time.monotonic()))
    brokers.stop()


def _await_opened(watches: Sequence[Watch], stop: Stop) -> None:
    """Connections begin when their ponds are there: each that comes later makes them connect anew."""
    until_s = time.monotonic() + OPENED_WITHIN_S
    for watch in watches:
        while not (stop() or watch.tried.wait(0.05)) and time.monotonic() < until_s:
            pass


def _guard(watches: Sequence[Watch], stop: Stop) -> None:
    withheld = False
    while not stop():
        now_s = time.monotonic()
        stalled = [watch.settings.pond.name for watch in watches if watch.stalled(now_s)]
        if not stalled:
            notify("WATCHDOG=1")
        elif not withheld:
            _log.error("watch-stalled", ponds=stalled, remedy="the watchdog is no longer fed")
        withheld = bool(stalled)
        time.sleep(GUARD_S)
