"""The composition root: builds the service from its configurations, turns it, takes it down in order."""

from __future__ import annotations

import signal
from collections.abc import Sequence
from contextlib import ExitStack

from dawnline.service.brokers import Brokers
from dawnline.service.pond import open_pond, turn
from dawnline.settings import Settings
from dawnline.systemd import notify


class Stop:
    """Set by SIGTERM or SIGINT; asked by the core loop. Before `turning` it ends the process at once, and well."""

    def __init__(self) -> None:
        self.asked = False
        self.turning = False  # while starting, which may take a while, there is nothing yet to be put in order
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._ask)

    def __call__(self) -> bool:
        """Whether to stop."""
        return self.asked

    def _ask(self, _number: int, _frame: object) -> None:
        self.asked = True
        if not self.turning:
            raise SystemExit(0)
        notify("STOPPING=1")


def serve(ponds: Sequence[Settings]) -> None:
    """Run the service until it is told to stop.

    Raises SettingsError before it has begun and, where there is one pond, StoreError: its process ends with it, and is
    started again. One of many ponds is started again within the process (see many.py).
    """
    stop = Stop()
    if len(ponds) > 1:
        from dawnline.service.many import watch_all

        watch_all(ponds, stop)
    else:
        _watch_one(ponds[0], stop)


def _watch_one(settings: Settings, stop: Stop) -> None:
    brokers = Brokers(())
    with ExitStack() as stack:
        core = open_pond(settings, stack, brokers, lambda: notify("WATCHDOG=1"))
        stop.turning = True
        turn(core, settings, stop, lambda: notify("READY=1"))
