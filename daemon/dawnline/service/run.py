"""The composition root: builds the service from its configurations, turns it, takes it down in order."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack

from dawnline.service.brokers import Brokers
from dawnline.service.pond import open_pond, turn
from dawnline.service.stop import Stop
from dawnline.settings import Settings
from dawnline.systemd import notify


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
