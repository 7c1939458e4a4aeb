"""Start, memory, processor and card writes of the running service: serial, MQTT and SQLite.

    python tests/benchmarks/footprint.py --seconds 60

Memory is the resident set before the first notice and after one was sent to a web hook. The processor share is at one
reading a second on two probes. Card writes are what the kernel was given to write (/proc/PID/io) at one reading per
10 s on two probes, pond time running 240 times faster, scaled to a day. The baseline of memory is a bare interpreter.
Modules are compiled, as pip leaves them. Where greenlet is installed (the driver of the browser brings it; a board has
none), structlog loads it: 1 MB more.
"""

from __future__ import annotations

import argparse
import os
import pty
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from stage import broker, free_port, mqtt, person, place, serial

FAST = 240
STARTS = 5
CONFIGURATION = (
    place("Footprint")
    + broker("{broker}")
    + serial("ph", "ph", "{port}")
    + mqtt("water", "temperature", "pond/water")
    + person("Receiver", "http://127.0.0.1:{hook}/")
    + '[alarms.ph-low]\non_delay = "5s"\n'
)


class Hook(BaseHTTPRequestHandler):
    """Takes notices."""

    taken = threading.Event()

    def do_POST(self) -> None:
        """Take one."""
        self.rfile.read(int(self.headers["Content-Length"]))
        self.send_response(204)
        self.end_headers()
        Hook.taken.set()

    def log_message(self, *_: object) -> None:
        """Say nothing."""


class Bench:
    """A broker, a port, a web hook and the service."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.broker_port = free_port()
        program = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin") or "mosquitto"
        (folder / "broker.conf").write_text(f"listener {self.broker_port} 127.0.0.1\nallow_anonymous true\nuser root\n")
        self.broker = subprocess.Popen([program, "-c", str(folder / "broker.conf")], stderr=subprocess.DEVNULL)
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Hook)
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        self.slave = os.ttyname(slave)
        time.sleep(0.5)
        self.client = Client(CallbackAPIVersion.VERSION2)
        self.client.connect("127.0.0.1", self.broker_port)
        self.client.loop_start()

    def start(self, rate: float, settled_s: float = 2.0) -> subprocess.Popen[bytes]:
        """The service, on a new store."""
        for path in self.folder.glob("pond*"):
            path.unlink()
        config = self.folder / "dawnline.toml"
        hook = self.server.server_address[1]
        config.write_text(CONFIGURATION.format(broker=self.broker_port, port=self.slave, hook=hook))
        environment = {**os.environ, "RUNTIME_DIRECTORY": "/dev/shm", "PYTHONDONTWRITEBYTECODE": ""}
        if rate != 1:
            environment["DAWNLINE_CLOCK_RATE"] = f"{rate:g}"
        words = [sys.executable, "-m", "dawnline.cli", "--config", str(config), "run", "--log", "warning"]
        service = subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(settled_s)
        return service

    def start_s(self) -> tuple[float, float]:
        """From the command to READY, as systemd hears it, on a new store: time on the wall, and processor time [s]."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as hears:
            hears.bind(str(self.folder / "notify"))
            os.environ["NOTIFY_SOCKET"] = str(self.folder / "notify")
            begun = time.monotonic()
            try:
                service = self.start(1, settled_s=0.0)
                hears.settimeout(30)
                while b"READY=1" not in hears.recv(4096):
                    pass
                return time.monotonic() - begun, processor_s(service.pid)
            finally:
                del os.environ["NOTIFY_SOCKET"]
                (self.folder / "notify").unlink()
                ended(service)

    def speak(self, seconds: float, period: float, ph: float = 7.2) -> None:
        """One reading of each probe each period."""
        until, number = time.monotonic() + seconds, 0
        while time.monotonic() < until:
            number += 1
            os.write(self.master, f"ph={ph + 0.01 * (number % 7):.2f}\n".encode())
            self.client.publish("pond/water", f"{18 + 0.1 * (number % 5):.1f}", qos=1)
            time.sleep(period)

    def close(self) -> None:
        """Take it all down."""
        self.client.disconnect()
        self.client.loop_stop()
        self.server.shutdown()
        self.broker.kill()
        self.broker.wait()


def resident_mb(pid: int) -> float:
    """Resident set [MB]."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")) / 1024


def processor_s(pid: int) -> float:
    """Processor time used [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def written_mb(pid: int) -> float:
    """Bytes given to the kernel to write to the disk [MB]."""
    lines = Path(f"/proc/{pid}/io").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("write_bytes")) / 1e6


def _bare_s() -> float:
    begun = time.monotonic()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    return time.monotonic() - begun


def ended(service: subprocess.Popen[bytes]) -> None:
    """Stop the service."""
    service.send_signal(signal.SIGTERM)
    service.wait(10)


def measure(seconds: float, show: Callable[[str], None]) -> None:
    """All of it."""
    bare = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(5)"])
    time.sleep(0.5)
    show(f"bare interpreter                     {resident_mb(bare.pid):6.1f} MB resident")
    bare.kill()
    bare.wait()
    with tempfile.TemporaryDirectory(prefix="dawnline-footprint-") as name:
        bench = Bench(Path(name))
        try:
            starts = [bench.start_s() for _ in range(STARTS)]
            wall, own = (sorted(each)[STARTS // 2] for each in zip(*starts, strict=True))
            show(f"start, from the command to READY     {wall:6.2f} s, {own:.2f} s of the processor")
            show(f"a bare interpreter, begun and ended  {_bare_s():6.2f} s")
            service = bench.start(1)
            bench.speak(5, 1)
            begun, used = time.monotonic(), processor_s(service.pid)
            bench.speak(seconds, 1)
            share = (processor_s(service.pid) - used) / (time.monotonic() - begun)
            show(f"service, before the first notice     {resident_mb(service.pid):6.1f} MB resident")
            show(f"processor, a reading a second each   {share:6.2%} of one core")
            ended(service)
            Hook.taken.clear()
            service = bench.start(FAST)
            bench.speak(8, 10 / FAST, ph=6.0)
            Hook.taken.wait(10)
            time.sleep(1)
            show(f"service, after a notice by web hook  {resident_mb(service.pid):6.1f} MB resident")
            ended(service)
            service = bench.start(FAST)
            bench.speak(10, 10 / FAST)
            begun, before = time.monotonic(), written_mb(service.pid)
            bench.speak(seconds, 10 / FAST)
            day = (written_mb(service.pid) - before) / ((time.monotonic() - begun) * FAST) * 86_400
            show(f"card writes, two probes per 10 s     {day:6.1f} MB a day")
            ended(service)
        finally:
            bench.close()


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60)
    measure(parser.parse_args().seconds, print)
    return 0


if __name__ == "__main__":
    sys.exit(main())
