"""What the outside sees when the daemon is killed, frozen or cut off, and after how long.

    python tests/benchmarks/outside.py

The real service with its unit's watchdog (60 s), the default keepalive (60 s) and a heartbeat a minute, against a real
broker, a stand-in for systemd's notify socket and a web server; broker and web server are reached through a relay that
can swallow everything, as a network does that is gone. Each case is a service of its own; they run side by side. The
baseline is a service that nothing happens to: nobody may be alarmed by it.

Told are, in seconds after the event: the broker's last will `lost` at a subscriber; the moment at which systemd would
act (the process is gone, or no WATCHDOG=1 for 60 s); the moment at which a heartbeat is overdue by itself.
"""

from __future__ import annotations

import argparse
import os
import pty
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import tty
from contextlib import suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import pairwise
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from stage import Broker, broker, place, serial, wait_for

WATCHDOG_S = 60.0
CONFIGURATION = (
    place("Outside")
    + broker("{broker}", 'keepalive = "{keepalive}s"')
    + '[heartbeat]\nurl = "http://127.0.0.1:{web}/beat"\nevery = "{every}s"\n'
    + serial("ph", "ph", "{port}")
)
CASES = ("nothing", "killed (SIGKILL)", "frozen (SIGSTOP)", "cut off")


class Relay:
    """Passes bytes between callers and a port; once `swallow` is set nothing goes through, and nothing is closed."""

    def __init__(self, target: int) -> None:
        self.target, self.swallow = target, threading.Event()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            caller, _ = self._listener.accept()
            if self.swallow.is_set():
                continue
            with suppress(OSError):
                called = socket.create_connection(("127.0.0.1", self.target))
                for one, other in ((caller, called), (called, caller)):
                    threading.Thread(target=self._pass, args=(one, other), daemon=True).start()

    def _pass(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(4096):
                if not self.swallow.is_set():
                    other.sendall(data)
            if not self.swallow.is_set():
                other.shutdown(socket.SHUT_WR)


@dataclass
class Case:
    """One service and what was seen of it, in machine seconds."""

    what: str
    folder: Path
    keepalive: int
    every: int
    lost: list[float] = field(default_factory=list)
    pings: list[float] = field(default_factory=list)
    beats: list[float] = field(default_factory=list)

    def begin(self) -> None:
        """Start everything, and wait until all three have been heard."""
        self.broker = Broker(self.folder / "broker")
        self._listen(self.broker.port)
        self._systemd()
        self.relays = [Relay(self.broker.port), Relay(self._web())]
        master, slave = pty.openpty()
        tty.setraw(slave)
        threading.Thread(target=self._speak, args=(master,), daemon=True).start()
        config = self.folder / "dawnline.toml"
        mqtt, web = (relay.port for relay in self.relays)
        config.write_text(
            CONFIGURATION.format(
                broker=mqtt, web=web, keepalive=self.keepalive, every=self.every, port=os.ttyname(slave)
            ),
            encoding="utf-8",
        )
        words = [sys.executable, "-m", "dawnline.cli", "--config", str(config), "run"]
        environment = {**os.environ, "NOTIFY_SOCKET": str(self.folder / "notify")}
        with (self.folder / "log").open("wb") as log:
            self.service = subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=log)
        heard = wait_for(lambda: bool(self.pings and self.beats and self.ready), f"{self.what}: signs of life", 60)
        if not heard:
            raise SystemExit((self.folder / "log").read_text()[-2000:])

    def happen(self) -> None:
        """The event."""
        self.at = time.monotonic()
        if self.what.startswith("killed"):
            self.service.kill()
        elif self.what.startswith("frozen"):
            self.service.send_signal(signal.SIGSTOP)
        elif self.what == "cut off":
            for relay in self.relays:
                relay.swallow.set()

    def end(self) -> None:
        """Take it down."""
        self.ended = time.monotonic()
        with suppress(ProcessLookupError):
            self.service.send_signal(signal.SIGCONT)
            self.service.kill()
        self.service.wait()
        self.broker.down()

    def row(self) -> tuple[str, str, str, str]:
        """The case in seconds after the event."""
        lost = next((when for when in self.lost if self.at <= when <= self.ended), None)
        gone = self.what.startswith("killed")
        silent = self._overdue(self.pings, WATCHDOG_S)
        return (
            self.what,
            _show(None if lost is None else lost - self.at),
            "at once (the process is gone)" if gone else _show(silent),
            _show(self._overdue(self.beats, self.every)),
        )

    def _overdue(self, heard: list[float], after_s: float) -> float | None:
        """When the next word was overdue by half of its time, None where it always came."""
        times = [*[when for when in heard if when <= self.ended], self.ended]
        for before, following in pairwise(times):
            if following > self.at and following - before > 1.5 * after_s:
                return before + after_s - self.at
        return None

    # ------------------------------------------------------------ who listens

    def _listen(self, port: int) -> None:
        self.ready = False
        client = Client(CallbackAPIVersion.VERSION2)

        def on_message(_client: object, _data: object, message: Any) -> None:
            if message.payload == b"lost":
                self.lost.append(time.monotonic())
            self.ready = self.ready or message.payload == b"ready"

        client.on_message = on_message
        client.on_connect = lambda c, *_: c.subscribe("homie/5/outside/$state", qos=1)
        client.connect("127.0.0.1", port)
        client.loop_start()

    def _systemd(self) -> None:
        channel = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        channel.bind(str(self.folder / "notify"))

        def run() -> None:
            while True:
                if channel.recv(256) == b"WATCHDOG=1":
                    self.pings.append(time.monotonic())

        threading.Thread(target=run, daemon=True).start()

    def _web(self) -> int:
        beats = self.beats

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                beats.append(time.monotonic())
                self.send_response(200)
                self.end_headers()

            def log_message(self, *_: object) -> None:
                pass

        server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        port: int = server.server_address[1]
        return port

    def _speak(self, master: int) -> None:
        number = 0
        while True:
            number += 1
            with suppress(OSError):
                os.write(master, f"{7.2 + number % 7 * 0.01:.2f}\n".encode())
            time.sleep(2.0)


def _show(seconds: float | None) -> str:
    return "-" if seconds is None else f"{seconds:.1f} s"


def run(keepalive: int, every: int) -> list[Case]:
    """All cases, side by side, until everybody must have noticed."""
    with tempfile.TemporaryDirectory(prefix="dawnline-outside-") as name:
        cases = []
        for number, what in enumerate(CASES):
            folder = Path(name) / str(number)
            folder.mkdir()
            cases.append(Case(what, folder, keepalive, every))
            cases[-1].begin()
        time.sleep(2.0)
        for case in cases:
            case.happen()
        time.sleep(max(2.0 * keepalive, 1.6 * WATCHDOG_S, 2.0 * every) + 10)
        for case in cases:
            case.end()
    return cases


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--keepalive", type=int, default=60, help="seconds, as in [mqtt]")
    parser.add_argument("--every", type=int, default=60, help="seconds, as in [heartbeat]")
    args = parser.parse_args()
    rows = [case.row() for case in run(args.keepalive, args.every)]
    heads = ("the daemon is ...", "last will `lost`", "systemd acts", "heartbeat overdue")
    for row in [heads, *rows]:
        print(f"{row[0]:<20} {row[1]:<18} {row[2]:<32} {row[3]}")
    return 1 if any(cell != "-" for cell in rows[0][1:]) else 0


if __name__ == "__main__":
    sys.exit(main())
