"""A service of our own on a pseudo-terminal of our own."""

from __future__ import annotations

import json
import os
import pty
import shutil
import signal
import subprocess
import sys
import tty
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from ..configuration import POND, serial

CONFIGURATION = POND + serial("ph", "ph", "PORT") + serial("water", "temperature", "PORT", 'key = "temp"')


class Pond:
    """One configuration, its port and its service."""

    def __init__(self, folder: Path, extra: str = "") -> None:
        self.folder, self.config, self.port = folder, folder / "dawnline.toml", folder / "probe"
        self.config.write_text(CONFIGURATION.replace("PORT", str(self.port)) + extra, encoding="utf-8")
        self.environment = {**os.environ, "RUNTIME_DIRECTORY": str(folder / "runtime")}
        (folder / "runtime").mkdir(exist_ok=True)
        self.master = -1
        self.service: subprocess.Popen[str] | None = None

    def plug(self) -> None:
        """Put the port there."""
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(slave))
        os.close(slave)

    def say(self, data: bytes) -> None:
        """The probe speaks."""
        os.write(self.master, data)

    def start(self, **environment: str) -> subprocess.Popen[str]:
        """Start the service."""
        words = [sys.executable, "-m", "dawnline.cli", "--config", str(self.config), "run"]
        with (self.folder / "service.log").open("ab") as log:
            self.service = subprocess.Popen(
                words, env=self.environment | environment, stdout=subprocess.PIPE, stderr=log, text=True
            )
        return self.service

    def stop(self, sig: int = signal.SIGTERM) -> int:
        """End the service; its exit status."""
        assert self.service is not None
        self.service.send_signal(sig)
        status = self.service.wait(timeout=8)
        if self.service.stdout is not None:
            self.service.stdout.close()
        self.service = None
        return status

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run one command of the command line."""
        line = [sys.executable, "-m", "dawnline.cli", "--config", str(self.config), *words]
        return subprocess.run(line, env=self.environment, capture_output=True, text=True, timeout=30, check=False)

    def status(self) -> dict[str, Any]:
        """`status --json`, or nothing while there is none."""
        out = self.command("status", "--json").stdout
        found: dict[str, Any] = json.loads(out) if out else {}
        return found

    @property
    def log(self) -> str:
        """What the service has logged."""
        return (self.folder / "service.log").read_text(encoding="utf-8")


@pytest.fixture
def make_pond(tmp_path: Path) -> Iterator[Callable[..., Pond]]:
    """`make_pond(extra)` gives a pond whose service is ended after the test."""
    made: list[Pond] = []

    def make(extra: str = "") -> Pond:
        made.append(Pond(tmp_path, extra))
        return made[-1]

    yield make
    for pond in made:
        if pond.service is not None:
            pond.stop(signal.SIGKILL)
        if pond.master >= 0:
            os.close(pond.master)


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A folder on a file system of 2 MB; to mount it takes root."""
    folder = tmp_path / "card"
    folder.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    if os.geteuid() != 0 or shutil.which("mount") is None or subprocess.run(words, check=False).returncode:
        pytest.skip("cannot mount a small file system here: run as root")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


@pytest.fixture
def image(tmp_path: Path, script: Callable[[str], ModuleType]) -> Iterator[Any]:
    """A card of 8 MB with ext4, which can be made to fail; to mount it takes root."""
    try:
        card = script("card").Card(tmp_path, 8)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("cannot mount an image here: run as root")
    yield card
    subprocess.run(["umount", "--lazy", str(card.path)], check=True)
