"""A pond as real processes: its configuration, its port, its service and page, and the commands run beside them."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import tty
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import dawnline
import dawnline_simulator

from .machine import WAIT_S

ROOTS = os.pathsep.join(str(Path(str(room.__file__)).parents[1]) for room in (dawnline, dawnline_simulator))


class Cable:
    """A pseudo-terminal behind a symbolic link, as udev makes one for a USB adaptor."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._ends: tuple[int, int] | None = None

    def plug(self) -> None:
        """The device is there: the link leads to a fresh terminal."""
        self._ends = os.openpty()
        tty.setraw(self._ends[1])
        self.path.symlink_to(os.ttyname(self._ends[1]))

    def unplug(self) -> None:
        """The device is gone, if it was there, and the link with it."""
        if self._ends is not None:
            self.path.unlink()
            for end in self._ends:
                os.close(end)
            self._ends = None

    def send(self, data: bytes) -> None:
        """The device writes."""
        assert self._ends is not None
        os.write(self._ends[0], data)

    def fill(self, line: bytes) -> None:
        """The device writes the line again and again, until the kernel takes no more."""
        assert self._ends is not None
        os.set_blocking(self._ends[0], False)
        with contextlib.suppress(BlockingIOError):
            while True:
                os.write(self._ends[0], line)
        os.set_blocking(self._ends[0], True)


class Household:
    """One configuration, in which PORT is the port of the cable, and all that runs with it; of many ponds a text for
    each name, and `config` is their folder. Each process writes NAME.log and NAME.out in `kept`, beside the present.
    """

    def __init__(self, folder: Path, configuration: str | Mapping[str, str], kept: Path | None = None) -> None:
        self.folder, self.kept = folder, folder if kept is None else kept
        self.cable = Cable(self.kept / "probe")
        if isinstance(configuration, str):
            self.config = folder / "dawnline.toml"
            self.config.write_text(configuration.replace("PORT", str(self.cable.path)), encoding="utf-8")
        else:
            self.config = folder / "ponds"
            self.config.mkdir()
            for name, text in configuration.items():
                (self.config / f"{name}.toml").write_text(text, encoding="utf-8")
        runtime = self.kept / "runtime"
        runtime.mkdir(exist_ok=True)
        self.environment = {**os.environ, "PYTHONPATH": ROOTS, "RUNTIME_DIRECTORY": str(runtime)}
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    def plug(self) -> None:
        """Put the port there."""
        self.cable.plug()

    def say(self, data: bytes) -> None:
        """The probe speaks."""
        self.cable.send(data)

    def words(self, *words: str) -> list[str]:
        """A command of this pond."""
        return [sys.executable, "-m", "dawnline.cli", "--config", str(self.config), *words]

    def start(self, name: str = "run", **environment: str) -> subprocess.Popen[bytes]:
        """Start the service, or the page."""
        return self.begin(name, self.words(name), **environment)

    def begin(self, name: str, line: list[str], **environment: str) -> subprocess.Popen[bytes]:
        """Start any process, under this name."""
        with (self.kept / f"{name}.log").open("ab") as log, (self.kept / f"{name}.out").open("ab") as out:
            given = self.environment | environment
            self.running[name] = subprocess.Popen(line, env=given, stdout=out, stderr=log, cwd=self.kept)
        return self.running[name]

    def stop(self, name: str = "run", sig: int = signal.SIGTERM) -> int:
        """End it; its exit status."""
        process = self.running.pop(name)
        process.send_signal(sig)
        return process.wait(WAIT_S)

    def kill(self, name: str = "run") -> None:
        """End it as a power cut does."""
        self.stop(name, signal.SIGKILL)

    def end(self, sig: int = signal.SIGTERM) -> None:
        """End whatever still runs, and pull the plug."""
        for name in list(self.running):
            self.stop(name, sig)
        self.cable.unplug()

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run one command of the command line."""
        return subprocess.run(
            self.words(*words), env=self.environment, capture_output=True, text=True, timeout=WAIT_S, check=False
        )

    def status(self) -> Any:
        """`status --json`, or nothing while there is none."""
        out = self.command("status", "--json").stdout
        return json.loads(out) if out else {}

    @property
    def log(self) -> str:
        """What the service has logged."""
        return self.kept.joinpath("run.log").read_text(encoding="utf-8", errors="replace")

    @property
    def out(self) -> str:
        """What the service has said to the console."""
        return self.kept.joinpath("run.out").read_text(encoding="utf-8")
