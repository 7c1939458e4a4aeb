"""What several benchmarks put around the real service: a broker, a port that can be unplugged, figures of a process."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
import tty
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))
import configuration  # noqa: F401  for those who stand on this stage
from configuration import POND, broker, mqtt, person, place, serial  # noqa: F401
from machine import free_port

UNREAD_S = 0.3  # machine time without a byte


def listens(port: int) -> bool:
    """Whether somebody does."""
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=1):
            return True
    except OSError:
        return False


def wait_for(condition: Callable[[], object], what: str, timeout_s: float = 30.0) -> bool:
    """Wait until the condition is true; false, with a word, where it never becomes so."""
    until = time.monotonic() + timeout_s
    while not condition():
        if time.monotonic() > until:
            print(f"{what}: not within {timeout_s:.0f} s", file=sys.stderr)
            return False
        time.sleep(0.05)
    return True


def program(name: str, package: str = "") -> str:
    """Where a program is. Raises SystemExit naming its Debian package."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin")
    if found is None:
        raise SystemExit(f"{name} is not installed (apt install {package or name})")
    return found


class Figures(NamedTuple):
    """Of one process: resident memory [MB], open files, threads."""

    mb: float
    files: int
    threads: int

    def __str__(self) -> str:
        return f"{self.mb:.1f} MB, {self.files} files, {self.threads} threads"


def figures(pid: int) -> Figures:
    """Those of a process that runs."""
    said = dict(
        line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text("ascii").splitlines() if ":" in line
    )
    return Figures(
        int(said["VmRSS"].split()[0]) / 1024, len(list(Path(f"/proc/{pid}/fd").iterdir())), int(said["Threads"])
    )


class Broker:
    """A mosquitto that keeps what it has acknowledged, started and stopped at will on one port."""

    def __init__(self, folder: Path, more: str = "allow_anonymous true\n") -> None:
        folder.mkdir(exist_ok=True)
        self.port = free_port()
        self._config = folder / "mosquitto.conf"
        self._config.write_text(
            f"listener {self.port} 127.0.0.1\nuser root\npersistence true\npersistence_location {folder}/\n"
            f"autosave_on_changes true\nautosave_interval 1\nmax_queued_messages 1000000\n{more}",
            encoding="ascii",
        )
        self.process: subprocess.Popen[bytes] | None = None
        self.up()

    def up(self) -> None:
        """Start it."""
        if self.process is None:
            words = [program("mosquitto"), "-c", str(self._config)]
            self.process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            wait_for(lambda: listens(self.port), "the broker")

    def down(self) -> None:
        """Stop it; it saves what it holds."""
        if self.process is not None:
            self.process.send_signal(signal.SIGCONT)
            self.process.terminate()
            self.process.wait()
            self.process = None


class Port:
    """A serial port at `path` that can be unplugged."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        self._ends: tuple[int, int] | None = None
        self.plug()

    def plug(self) -> None:
        """Plug it in."""
        with self._lock:
            if self._ends is None:
                master, slave = os.openpty()
                tty.setraw(slave)
                os.set_blocking(master, False)
                self._ends = master, slave
                self.path.unlink(missing_ok=True)
                self.path.symlink_to(os.ttyname(slave))

    def unplug(self) -> bytes:
        """Pull it out; what was still in the cable, that nobody had read, and now nobody will."""
        rest = b""
        with self._lock:
            if self._ends is not None:
                self.path.unlink(missing_ok=True)
                rest = _unread(self._ends[1])
                for end in self._ends:
                    os.close(end)
                self._ends = None
        return rest

    def write(self, data: bytes) -> bool:
        """Send it; false where it did not go out as a whole: unplugged, or nobody reads."""
        with self._lock, suppress(OSError):
            return self._ends is not None and os.write(self._ends[0], data) == len(data)
        return False


def _unread(slave: int) -> bytes:
    """What the kernel holds for the reader of a pseudo-terminal."""
    os.set_blocking(slave, False)
    found, until = b"", time.monotonic() + UNREAD_S
    while time.monotonic() < until:  # the kernel hands on what is beyond its 4096 bytes a little later
        with suppress(BlockingIOError):
            if more := os.read(slave, 65_536):
                found, until = found + more, time.monotonic() + UNREAD_S
        time.sleep(0.005)
    return found


def command(config: Path, *words: str) -> list[str]:
    """The words that run a command of dawnline."""
    return [sys.executable, "-m", "dawnline.cli", "--config", str(config), *words]


def ended(process: subprocess.Popen[bytes], timeout_s: float = 15.0) -> int:
    """Stop it as systemd does; the exit status."""
    process.send_signal(signal.SIGCONT)
    process.send_signal(signal.SIGTERM)
    try:
        return process.wait(timeout_s)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return -1


def environment(folder: Path, more: Mapping[str, str]) -> dict[str, str]:
    """That of a service whose runtime directory is `folder`."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith("DAWNLINE_")}
    return {**kept, "RUNTIME_DIRECTORY": str(folder), **more}
