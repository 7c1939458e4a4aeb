"""A pond whose folder is a card of its own, and its real service."""

from __future__ import annotations

import re
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ..household import Household
from .conftest import CONFIGURATION

Eventually = Callable[..., None]
ADA = '[[people]]\nname = "Ada"\naddresses = ["console:"]\n[limits]\nph_low = 6.5\n'


class Card(Household):
    """A pond whose folder is a card; log and runtime folder lie elsewhere, as they do on a board."""

    said = count = 0

    def __init__(self, folder: Path, elsewhere: Path) -> None:
        super().__init__(folder, CONFIGURATION + ADA, kept=elsewhere)

    def measure(self, level: float = 7.0) -> None:
        """A reading of a value of its own."""
        self.said += 1 if self.said % 10 < 9 else 2  # a last digit of 0 is not written
        self.count += 1
        self.say(f"ph={level + self.said * 1e-6:.6f} temp=18.1\n".encode())

    def fill(self) -> None:
        """Take all the room there is."""
        with (self.folder / "filler").open("ab", buffering=0) as filler:
            for size in (4096, 1):
                try:
                    while True:
                        filler.write(b"x" * size)
                except OSError:
                    continue

    def measuring(self, seen: Callable[[], bool], level: Callable[[], float] = lambda: 7.0) -> Callable[[], bool]:
        """A condition to wait for: each look at it is a reading more."""

        def turn() -> bool:
            self.measure(level())
            return seen()

        return turn

    def recorded(self) -> list[str]:
        out = self.kept / "out.csv"
        out.unlink(missing_ok=True)
        assert self.command("readings", "--csv", str(out)).returncode == 0
        return re.findall(r"\d\.\d{6}", out.read_text(encoding="utf-8"))


@contextmanager
def watching(pond: Card, eventually: Eventually, **environment: str) -> Iterator[None]:
    """Its service, connected to its probe; ended at the end by whatever means, with no fault in its log."""
    pond.plug()
    pond.start(**environment)
    try:
        eventually(lambda: "connected" in pond.log, "connected")
        pond.say(b"\n")  # the rest of a line is never believed
        yield
    finally:
        pond.end(signal.SIGKILL)
        print(pond.log)
    assert "Traceback" not in pond.log


def falling_by(part: float) -> Callable[[], float]:
    """A pH that falls by this part of one at each look, from 7 to 6.1."""
    levels = iter(max(6.1, 7 - n * part) for n in range(10_000))
    return lambda: next(levels)
