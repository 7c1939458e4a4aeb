"""A pond of one's own in real processes, with its probe on a pseudo-terminal, and a browser to look at its page."""

from __future__ import annotations

import os
import pty
import shutil
import signal
import subprocess
import sys
import threading
import tty
import urllib.request
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from ..configuration import person, place, serial
from ..machine import free_port, until

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
RATE = "60"  # a pond minute in a second
WAIT_S = 60.0  # for what takes a moment here, and longer on a busy machine

CONFIGURATION = (
    place("Heron Lane", "pond.db", "volume_litres = 14000")
    + serial("ph", "ph", "{port}")
    + serial("water", "temperature", "{port}", 'key = "temp"')
    + person("Ada", "console:")
    + "[page]\nport = {page}\n"
)


def missing(what: str) -> Any:
    """Skip, or fail where everything is asked for."""
    if os.environ.get("DAWNLINE_TEST_ALL"):
        pytest.fail(f"{what} is missing, and DAWNLINE_TEST_ALL asks for it")
    pytest.skip(f"{what} is missing here")


def program() -> str:
    """Where the browser is."""
    return shutil.which("chromium") or missing("chromium (apt install chromium)")


class RealPond:
    """Its folder, its probe, its service and its page."""

    def __init__(self, folder: Path, page: str = "") -> None:
        self.folder, self.config, self.port = folder, folder / "dawnline.toml", free_port()
        self.base = f"http://127.0.0.1:{self.port}"
        (folder / "runtime").mkdir()
        self.config.write_text(CONFIGURATION.format(port=folder / "probe", page=self.port) + page, encoding="utf-8")
        self.environment = {**os.environ, "RUNTIME_DIRECTORY": str(folder / "runtime")}
        self.running: dict[str, subprocess.Popen[bytes]] = {}
        self.ph, self.celsius = 7.4, 16.0
        self._over = threading.Event()
        self._thread: threading.Thread | None = None

    def words(self, *words: str) -> list[str]:
        """A command line of this pond."""
        return [sys.executable, "-m", "dawnline.cli", "--config", str(self.config), *words]

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
        master, slave = pty.openpty()
        tty.setraw(slave)
        (self.folder / "probe").symlink_to(os.ttyname(slave))

        def speak() -> None:
            while not self._over.wait(0.1):
                os.write(master, f"ph={self.ph:.2f} temp={self.celsius:.1f}\n".encode())
            os.close(master)
            os.close(slave)

        os.set_blocking(master, True)
        self._thread = threading.Thread(target=speak, daemon=True)
        self._thread.start()

    def start(self, name: str) -> None:
        """`run` or `page`; returns when it answers."""
        environment = self.environment | ({"DAWNLINE_CLOCK_RATE": RATE} if name == "run" else {})
        with (self.folder / f"{name}.log").open("ab") as log:
            self.running[name] = subprocess.Popen(self.words(name), env=environment, stdout=log, stderr=log)
        if name == "page":
            until(self.answers, "the page", WAIT_S)

    def answers(self) -> bool:
        """Whether the page does."""
        with suppress(OSError):
            return bool(urllib.request.urlopen(f"{self.base}/style.css", timeout=5).status == 200)
        return False

    def stop(self, name: str) -> None:
        """End it."""
        process = self.running.pop(name)
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=WAIT_S)

    def end(self) -> None:
        """End all of it."""
        for name in list(self.running):
            self.stop(name)
        self._over.set()
        if self._thread is not None:
            self._thread.join(timeout=5)
