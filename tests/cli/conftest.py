"""A folder with a configuration, and the command line run in it, in this process or in one of its own."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import structlog

from dawnline.cli import main

from ..configuration import POND, serial
from ..household import ROOTS, Cable
from ..machine import WAIT_S

CONFIG = POND + serial("ph", "ph", "/dev/no-such-port") + serial("water", "temperature", "/dev/no-such-port")


@dataclass(frozen=True)
class Said:
    """What a command left: its exit status, its output, its complaints."""

    status: int
    out: str
    err: str

    @property
    def lines(self) -> list[dict[str, Any]]:
        """The output as JSON lines."""
        return [json.loads(line) for line in self.out.splitlines()]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a configuration; we are in it, and nobody else's runtime directory is near."""
    (tmp_path / "dawnline.toml").write_text(CONFIG, encoding="utf-8")
    (tmp_path / "runtime").mkdir()
    monkeypatch.chdir(tmp_path)
    for name in [name for name in os.environ if name.startswith("DAWNLINE_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "runtime"))
    return tmp_path


@pytest.fixture
def configure(folder: Path) -> Callable[..., None]:
    """`configure(extra, probes=...)` writes the configuration anew: more at its end, or other probes."""

    def write(extra: str = "", probes: str = "") -> None:
        head, begins, own = CONFIG.partition("[[probes]]")
        text = head + (probes or begins + own) + extra
        (folder / "dawnline.toml").write_text(text, encoding="utf-8")

    return write


@pytest.fixture
def call(folder: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    """`call("status", "--json")` runs a command in this process."""

    def say(*words: str) -> Said:
        capsys.readouterr()
        try:
            status = main(words)
        except SystemExit as done:
            status = int(done.code or 0)
        text = capsys.readouterr()
        return Said(status, text.out, text.err)

    return say


@pytest.fixture
def replay(folder: Path, call: Callable[..., Said]) -> Callable[..., Said]:
    """`replay(text, "--json")` replays a recording of this text."""

    def run(text: str | bytes, *words: str) -> Said:
        data = text if isinstance(text, bytes) else text.encode("utf-8")
        (folder / "in.csv").write_bytes(data)
        return call("replay", "in.csv", *words)

    return run


@pytest.fixture
def program(folder: Path) -> Callable[..., Said]:
    """`program("status", LC_ALL="C")` runs a command as a process of its own."""

    def run(*words: str, **environment: str) -> Said:
        line = [sys.executable, "-m", "dawnline.cli", *words]
        given = {**os.environ, "PYTHONPATH": ROOTS, **environment}
        done = subprocess.run(
            line,
            cwd=folder,
            env=given,
            capture_output=True,
            encoding="utf-8",
            errors="replace",
            timeout=WAIT_S,
            check=False,
        )
        return Said(done.returncode, done.stdout, done.stderr)

    return run


@pytest.fixture
def shell(folder: Path) -> Callable[[str], Said]:
    """`shell("dawnline status | head -1")` runs a line of shell, where `dawnline` is ours."""

    def run(line: str) -> Said:
        ours = f'dawnline() {{ "{sys.executable}" -m dawnline.cli "$@"; }}\n'
        done = subprocess.run(
            ["bash", "-c", ours + line], env={**os.environ, "PYTHONPATH": ROOTS}, capture_output=True, text=True,
            timeout=WAIT_S, check=False,
        )  # fmt: skip
        return Said(done.returncode, done.stdout, done.stderr)

    return run


@pytest.fixture
def service(folder: Path) -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    """`service()` starts `dawnline run`; it is ended after the test."""
    started: list[subprocess.Popen[bytes]] = []

    def start(**environment: str) -> subprocess.Popen[bytes]:
        with (folder / "service.log").open("ab") as log:
            line = [sys.executable, "-m", "dawnline.cli", "run"]
            given = {**os.environ, "PYTHONPATH": ROOTS, **environment}
            started.append(subprocess.Popen(line, cwd=folder, env=given, stdout=log, stderr=log))
        return started[-1]

    yield start
    for process in started:
        if process.poll() is None:
            process.kill()
        process.wait(WAIT_S)


@pytest.fixture
def cable(folder: Path) -> Iterator[Cable]:
    """A serial port that is there."""
    made = Cable(folder / "probe")
    made.plug()
    yield made
    made.unplug()


@pytest.fixture
def terminal(cable: Cable) -> Path:
    """The path of that port."""
    return cable.path


@pytest.fixture(autouse=True)
def log_as_before() -> Iterator[None]:
    """A command run in this process may set up the log on a stream that ends with its test."""
    yield
    structlog.reset_defaults()


@pytest.fixture
def deaf_port() -> Iterator[int]:
    """A port that is taken, and on which nobody listens."""
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        yield nobody.getsockname()[1]
