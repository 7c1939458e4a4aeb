"""What several test rooms need: a real broker, waiting on a condition, the scripts of benchmarks."""

from __future__ import annotations

import importlib
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import HealthCheck, settings

from . import machine

# How long an example takes says how busy the machine is, and nothing of us.
settings.register_profile("house", settings.default, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")


@pytest.fixture
def eventually() -> Callable[..., None]:
    """`eventually(condition)` waits until it is true, and fails, with `what`, where it never becomes so."""
    return machine.until


@pytest.fixture(scope="session")
def script() -> Callable[[str], ModuleType]:
    """`script("kill")` loads tests/benchmarks/kill.py; the scripts may import each other."""
    folder = str(Path(__file__).parent / "benchmarks")
    if folder not in sys.path:
        sys.path.append(folder)
    return importlib.import_module


class Broker:
    """A mosquitto of our own. `ca_file` is the authority of its certificate, where it speaks TLS."""

    host = "localhost"

    def __init__(self, folder: Path, config: Sequence[str], port: int, ca_file: Path | None) -> None:
        self.folder, self.port, self.ca_file = folder, port, ca_file
        self._config = folder / "mosquitto.conf"
        self._config.write_text("\n".join(config) + "\n", encoding="utf-8")
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def log(self) -> str:
        """What the broker has logged so far."""
        return (self.folder / "broker.log").read_text(encoding="utf-8", errors="replace")

    @property
    def process(self) -> subprocess.Popen[bytes]:
        """The running broker, for a signal of one's own (SIGSTOP, SIGCONT)."""
        assert self._process is not None
        return self._process

    def restart(self) -> None:
        """Start it, again on the same port and with what it kept; returns when it listens."""
        with (self.folder / "broker.log").open("ab") as log:
            self._process = subprocess.Popen(
                [machine.program("mosquitto"), "-c", str(self._config)], stdout=log, stderr=log
            )
        machine.until(self._listens, f"the broker listening ({self.folder / 'broker.log'})")

    def stop(self, sig: int = signal.SIGTERM) -> None:
        """End it: SIGTERM lets it save its sessions, SIGKILL does not."""
        if self._process is not None:
            self._process.send_signal(sig)
            self._process.wait(machine.WAIT_S)
            self._process = None

    def _listens(self) -> bool:
        try:
            with socket.create_connection(("127.0.0.1", self.port), timeout=1):
                return True
        except OSError:
            return False


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Callable[..., Broker]]:
    """`mosquitto(password=("user", "secret"), tls=True, persistence=True)` starts a broker."""
    started: list[Broker] = []

    def start(
        *,
        password: tuple[str, str] | None = None,
        tls: bool = False,
        persistence: bool = False,
        config_lines: Sequence[str] = (),
    ) -> Broker:
        folder = tmp_path / f"broker-{len(started)}"
        folder.mkdir()
        port = machine.free_port()
        config = [f"listener {port} 127.0.0.1", "user root", "log_type all", *config_lines]
        config += _access(folder, password) + (_certificates(folder) if tls else [])
        if persistence:
            config += ["persistence true", f"persistence_location {folder}/", "autosave_interval 1"]
        broker = Broker(folder, config, port, folder / "ca.crt" if tls else None)
        started.append(broker)
        broker.restart()
        return broker

    yield start
    for broker in started:
        broker.stop(signal.SIGKILL)


def _access(folder: Path, password: tuple[str, str] | None) -> list[str]:
    if password is None:
        return ["allow_anonymous true"]
    _run("mosquitto_passwd", "-b", "-c", str(folder / "passwords"), *password)
    return ["allow_anonymous false", f"password_file {folder / 'passwords'}"]


def _certificates(folder: Path) -> list[str]:
    """A certificate for localhost and 127.0.0.1, signed by an authority made for the occasion."""
    ca, key = str(folder / "ca.crt"), str(folder / "ca.key")
    new = ["-newkey", "rsa:2048", "-nodes"]
    authority = ["-x509", "-subj", "/CN=test authority", "-days", "2"]
    _run("openssl", "req", *new, *authority, "-keyout", key, "-out", ca)
    request, server = str(folder / "server.csr"), str(folder / "server.key")
    _run("openssl", "req", *new, "-subj", "/CN=localhost", "-keyout", server, "-out", request)
    names = folder / "names"
    names.write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\n", encoding="ascii")
    signing = ["-CA", ca, "-CAkey", key, "-CAcreateserial", "-days", "2", "-extfile", str(names)]
    _run("openssl", "x509", "-req", "-in", request, *signing, "-out", str(folder / "server.crt"))
    return [f"cafile {ca}", f"certfile {folder / 'server.crt'}", f"keyfile {server}"]


def _run(program: str, *arguments: str) -> None:
    subprocess.run([machine.program(program), *arguments], check=True, capture_output=True)
