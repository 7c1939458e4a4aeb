"""How far a long work has come, on the standard error of somebody who looks."""

from __future__ import annotations

import sys
import time
from typing import Final

PATIENCE_S: Final = 1.0  # nothing is said of what is done sooner
EVERY_S: Final = 0.2


class Progress:
    """Says the share done, on one line of a terminal; nothing where the output is no terminal."""

    def __init__(self, what: str) -> None:
        self.what = what
        self._shown_s = time.monotonic() + PATIENCE_S - EVERY_S
        self._shown = False

    def __call__(self, done: float) -> None:
        """A share of 0 to 1 is done."""
        now = time.monotonic()
        if now - self._shown_s < EVERY_S or not sys.stderr.isatty():
            return
        self._shown_s, self._shown = now, True
        print(f"\r{self.what}: {done:.0%} ", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Take the line away."""
        if self._shown:
            print("\r\033[K", end="", file=sys.stderr, flush=True)
