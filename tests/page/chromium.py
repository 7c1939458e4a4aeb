"""A pond of one's own in real processes, with its probe on a pseudo-terminal, and a browser to look at its page."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import urllib.request
from contextlib import suppress
from pathlib import Path

from ..configuration import person, place, serial
from ..household import Household
from ..machine import free_port, until

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
RATE = "60"  # a pond minute in a second

CONFIGURATION = (
    place("Heron Lane", "pond.db", "volume_litres = 14000")
    + serial("ph", "ph", "PORT")
    + serial("water", "temperature", "PORT", 'key = "temp"')
    + person("Ada", "console:")
    + "[page]\nport = PAGE\n"
)


class RealPond(Household):
    """With a probe that speaks, a service in scaled time, and a page at `base`."""

    def __init__(self, folder: Path, page: str = "") -> None:
        self.port = free_port()
        self.base = f"http://127.0.0.1:{self.port}"
        super().__init__(folder, CONFIGURATION.replace("PAGE", str(self.port)) + page)
        self.ph, self.celsius = 7.4, 16.0
        self._over = threading.Event()
        self._thread: threading.Thread | None = None

    def record(self, scenario: str, days: int, start: str, *, interval: str = "60s") -> None:
        """Days of the simulator in the store, as the watch sees them."""
        readings = str(self.folder / "in.csv")
        simulator = [sys.executable, "-m", "dawnline_simulator", "write", "--scenario", scenario, "--days", str(days)]
        subprocess.run(
            [*simulator, "--interval", interval, "--start", start, readings], check=True, capture_output=True
        )
        replay = self.words("replay", readings, "--store", str(self.folder / "pond.db"))
        subprocess.run(replay, check=False, capture_output=True, env=self.environment)

    def plug(self) -> None:
        """The probe hangs at its port and speaks, ten times a second, until the end."""
        super().plug()
        self._thread = threading.Thread(target=self._speak, daemon=True)
        self._thread.start()

    def _speak(self) -> None:
        while not self._over.wait(0.1):
            self.say(f"ph={self.ph:.2f} temp={self.celsius:.1f}\n".encode())

    def start(self, name: str = "run", **environment: str) -> subprocess.Popen[bytes]:
        """`run` or `page`; returns when it answers."""
        process = super().start(name, **(environment | ({"DAWNLINE_CLOCK_RATE": RATE} if name == "run" else {})))
        if name == "page":
            until(self.answers, "the page")
        return process

    def answers(self) -> bool:
        """Whether the page does."""
        with suppress(OSError):
            return bool(urllib.request.urlopen(f"{self.base}/style.css", timeout=5).status == 200)
        return False

    def end(self, sig: int = signal.SIGTERM) -> None:
        """End all of it."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()
        super().end(sig)
