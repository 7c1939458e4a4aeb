"""Being told to stop."""

from __future__ import annotations

import signal

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
