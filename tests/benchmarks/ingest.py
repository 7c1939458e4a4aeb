"""Readings a second through one process that watches many ponds, by MQTT and a real broker, down to their stores.

    python tests/benchmarks/ingest.py                   100 ponds, flat out and at 5 000 readings a second
    python tests/benchmarks/ingest.py --scale           50, 200 and 500 ponds as field boards speak: a reading of two
                                                        probes every 10 s, and every second; start, memory, processor

The publisher is a process of its own that writes ready-made packets, and says how fast; each message is a JSON object
with pH, temperature and the sender's time: two readings. The baseline in the same run is a bare subscriber: the same
client library, one table, one insert a reading, a commit a second. None may be lost: what the broker acknowledged is
counted in the stores.

"Sustained" is what came into the stores between a quarter of the sending and its end: the last messages wait for a
commit, for a second or for a minute, however slowly they come, and belong to no pace.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from stage import broker, free_port, mqtt, place

WINDOW = 10_000
PER_MESSAGE = 2
BROKER = """listener {port} 127.0.0.1
user root
allow_anonymous true
persistence true
persistence_location {folder}/
autosave_interval 60
max_inflight_messages {window}
max_queued_messages 2000000
max_queued_bytes 0
"""
POND = (
    place("Pond {number:03}", "pond-{number:03}.db")
    + broker("{port}", 'client_id = "club"', "window = {window}")
    + mqtt("ph", "ph", "club/{number:03}", 'time_key = "time"')
    + mqtt("water", "temperature", "club/{number:03}", 'time_key = "time"')
)


# ---------------------------------------------------------------- the publisher


def publish(port: int, ponds: int, per_s: float, messages: int) -> None:
    """Send `messages`, spread evenly over ponds, `per_s` a second (0: flat out); print how long that took [s], and
    return when the broker has them all. Whoever could not send for a while catches up.

    Writes MQTT 3.1.1 itself: a client library would take as long over a message as the whole service does.
    """
    line = socket.create_connection(("127.0.0.1", port))
    line.sendall(_packet(0x10, b"\0\x04MQTT\x04\x02\0\x3c" + _text(f"sender-{os.getpid()}")))
    taken = threading.Semaphore(20_000)
    done = threading.Event()

    def acknowledged() -> None:
        left, rest = messages, b""
        line.recv(4)  # CONNACK
        while left > 0:
            rest += line.recv(65_536)
            whole = len(rest) // 4  # every PUBACK has four bytes
            rest = rest[4 * whole :]
            left -= whole
            taken.release(whole) if whole else None
        done.set()

    threading.Thread(target=acknowledged, daemon=True).start()
    began, sent = time.monotonic(), 0
    while sent < messages:
        due = messages if not per_s else min(messages, int((time.monotonic() - began) * per_s) + 1)
        out = bytearray()
        for number in range(sent, min(due, sent + 200)):
            taken.acquire()
            turn, pond = divmod(number, ponds)
            stamp = time.time()
            payload = f'{{"time":{stamp:.3f},"ph":{7.2 + turn % 97 / 500:.3f},"water":{18 + turn % 89 / 300:.3f}}}'
            head = _text(f"club/{pond:03}") + (number % 65_535 + 1).to_bytes(2, "big")
            out += _packet(0x32, head + payload.encode())
            sent += 1
        line.sendall(out)
        if sent >= due:
            time.sleep(0.01)
    print(time.monotonic() - began, flush=True)
    done.wait(120)
    line.close()


def _text(text: str) -> bytes:
    return len(text).to_bytes(2, "big") + text.encode()


def _packet(kind: int, body: bytes) -> bytes:
    length, size = bytearray(), len(body)
    while True:
        size, low = divmod(size, 128)
        length.append(low | (0x80 if size else 0))
        if not size:
            return bytes([kind]) + bytes(length) + body


# ---------------------------------------------------------------- the baseline


def bare(port: int, path: str) -> None:
    """A subscriber that only inserts."""
    from paho.mqtt.client import Client
    from paho.mqtt.enums import CallbackAPIVersion

    db = sqlite3.connect(path, isolation_level=None)
    db.executescript("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; CREATE TABLE r (p, q, at, v); BEGIN")
    last = time.monotonic()

    def on_message(_client: object, _data: object, message: object) -> None:
        nonlocal last
        said = json.loads(message.payload)  # type: ignore[attr-defined]
        topic = message.topic  # type: ignore[attr-defined]
        for name in ("ph", "water"):
            db.execute("INSERT INTO r VALUES (?, ?, ?, ?)", (topic, name, said["time"], said[name]))
        if time.monotonic() - last > 1:
            db.execute("COMMIT")
            db.execute("BEGIN")
            last = time.monotonic()

    client = Client(CallbackAPIVersion.VERSION2, client_id="bare", clean_session=False)
    client.on_connect = lambda client, *_: client.subscribe("club/#", qos=1)
    client.on_subscribe = lambda *_: print("ready", flush=True)
    client.on_message = on_message
    client.connect("127.0.0.1", port)
    while True:
        client.loop(0.2)
        if time.monotonic() - last > 1:
            db.execute("COMMIT")
            db.execute("BEGIN")
            last = time.monotonic()


# ---------------------------------------------------------------- running them


@dataclass
class Run:
    """One run; `seconds` from the first message until the last was taken, processor time in s. `sent_per_s` and
    `sustained_per_s` are readings.
    """

    what: str
    readings: int
    stored: int
    sent_per_s: float
    sustained_per_s: float
    seconds: float
    lag_s: float
    processor_s: float
    resident_mb: float
    start_s: float = 0.0

    def __str__(self) -> str:
        rate, lost = self.readings / self.seconds, self.readings - self.stored
        cores, each_us = self.processor_s / self.seconds, self.processor_s / self.readings * 1e6
        sustained = f"sustained {self.sustained_per_s:.0f}/s, " if self.sustained_per_s else ""
        start = f", start {self.start_s:5.2f} s" if self.start_s else ""
        return (
            f"{self.what:<42} {rate:7.0f} readings/s in all, sent {self.sent_per_s:.0f}/s, {sustained}"
            f"lost {lost}, behind at the end {self.lag_s:5.2f} s, "
            f"processor {cores:4.2f} cores, {each_us:3.0f} us each, resident {self.resident_mb:4.0f} MB{start}"
        )


@contextmanager
def broker(folder: Path) -> Iterator[int]:
    """A mosquitto as config/mosquitto.conf has it for many ponds."""
    port = free_port()
    config = folder / "mosquitto.conf"
    config.write_text(BROKER.format(port=port, folder=folder, window=WINDOW), encoding="utf-8")
    program = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    with (folder / "broker.log").open("wb") as log:
        process = subprocess.Popen([program, "-c", str(config)], stdout=log, stderr=log)
    try:
        for _ in range(100):
            try:
                socket.create_connection(("127.0.0.1", port)).close()
                break
            except OSError:
                time.sleep(0.05)
        yield port
    finally:
        process.terminate()
        process.wait()


class Service:
    """The service over `ponds` ponds."""

    def __init__(self, folder: Path, port: int, ponds: int) -> None:
        self.folder, self.ponds = folder, ponds
        configs = folder / "ponds"
        configs.mkdir()
        for number in range(ponds):
            text = POND.format(number=number, port=port, window=WINDOW)
            (configs / f"{number:03}.toml").write_text(text, encoding="utf-8")
        (folder / "runtime").mkdir()
        environment = {**os.environ, "RUNTIME_DIRECTORY": str(folder / "runtime")}
        began = time.monotonic()
        with (folder / "service.log").open("wb") as log:
            words = [sys.executable, "-m", "dawnline.cli", "run", "--config", str(configs)]
            self.process = subprocess.Popen(words, env=environment, stderr=log)
        mark = b"watching-many" if ponds > 1 else b'"watching"'
        while mark not in (folder / "service.log").read_bytes():
            if self.process.poll() is not None:
                raise RuntimeError((folder / "service.log").read_text()[-2000:])
            time.sleep(0.01)
        self.start_s = time.monotonic() - began
        time.sleep(1.5)  # connected, subscribed

    def stored(self) -> int:
        """Readings in all stores now."""
        found = 0
        for path in (self.folder / "ponds").glob("pond-???.db"):
            db = sqlite3.connect(path)
            found += db.execute("SELECT count(*) FROM readings").fetchone()[0]
            db.close()
        return found


def processor_s(pid: int) -> float:
    """What a process has used, proc_pid_stat(5)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def resident_mb(pid: int) -> float:
    """Resident memory."""
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def measure(what: str, ponds: int, per_s: float, messages: int) -> Run:
    """The service, with so many messages a second (0: flat out)."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="ingest-")))
        port = stack.enter_context(broker(folder))
        service = Service(folder, port, ponds)
        stack.callback(service.process.kill)
        before, began = processor_s(service.process.pid), time.monotonic()
        sent_per_s, sustained_per_s = _publish(port, ponds, per_s, messages, service.stored)
        published = time.monotonic()
        until = published + 300
        # Under ten messages may wait for the minute: the broker is told at ten, and nobody else waits for them.
        while service.stored() < PER_MESSAGE * (messages - 10) and time.monotonic() < until:
            time.sleep(0.3)
        ended = time.monotonic()
        used, memory = processor_s(service.process.pid) - before, resident_mb(service.process.pid)
        time.sleep(2)
        service.process.send_signal(signal.SIGTERM)
        service.process.wait(60)
        readings = PER_MESSAGE * messages
        stored, seconds, lag_s = service.stored(), ended - began, ended - published
        return Run(
            what, readings, stored, sent_per_s, sustained_per_s, seconds, lag_s, used, memory, service.start_s
        )  # fmt: skip


def measure_bare(ponds: int, per_s: float, messages: int) -> Run:
    """The bare subscriber."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="ingest-")))
        port = stack.enter_context(broker(folder))
        words = [sys.executable, __file__, "--bare", str(port), str(folder / "bare.db")]
        process = subprocess.Popen(words, stdout=subprocess.PIPE)
        stack.callback(process.kill)
        assert process.stdout is not None
        process.stdout.readline()
        db = sqlite3.connect(folder / "bare.db")

        def inserted() -> int:
            return db.execute("SELECT max(rowid) FROM r").fetchone()[0] or 0

        before, began = processor_s(process.pid), time.monotonic()
        sent_per_s, sustained_per_s = _publish(port, ponds, per_s, messages, inserted)
        published, stored = time.monotonic(), 0
        while stored < PER_MESSAGE * messages and time.monotonic() < published + 300:
            time.sleep(0.1)
            stored = inserted()
        ended = time.monotonic()
        used, memory = processor_s(process.pid) - before, resident_mb(process.pid)
        db.close()
        readings = PER_MESSAGE * messages
        seconds, lag_s = ended - began, ended - published
        return Run("bare subscriber", readings, stored, sent_per_s, sustained_per_s, seconds, lag_s, used, memory)


def _publish(port: int, ponds: int, per_s: float, messages: int, stored: Callable[[], int]) -> tuple[float, float]:
    """Readings sent a second, and stored a second from a quarter of the sending to its end."""
    words = [sys.executable, __file__, "--publish", str(port), str(ponds), str(per_s), str(messages)]
    publisher = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert publisher.stdout is not None
    told = publisher.stdout
    ended, early = threading.Event(), (0.0, 0)
    taken: list[float] = []

    def listen() -> None:
        taken.append(float(told.readline()))
        ended.set()

    threading.Thread(target=listen, daemon=True).start()
    if per_s and not ended.wait(messages / per_s / 4):
        early = (time.monotonic(), stored())
    ended.wait()
    late = (time.monotonic(), stored())
    if publisher.wait() != 0:
        raise RuntimeError("the publisher failed")
    sustained = (late[1] - early[1]) / (late[0] - early[0]) if early[0] else 0.0
    return PER_MESSAGE * messages / taken[0], sustained


def main() -> int:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scale", action="store_true", help="how far one process goes")
    parser.add_argument("--ponds", type=int, default=100)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--publish", nargs=4, help=argparse.SUPPRESS)
    parser.add_argument("--bare", nargs=2, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.publish:
        port, ponds, per_s, messages = args.publish
        publish(int(port), int(ponds), float(per_s), int(messages))
        return 0
    if args.bare:
        bare(int(args.bare[0]), args.bare[1])
        return 0
    runs = []
    if args.scale:
        cases = [(1, 0.1), *((ponds, per_s) for ponds in (50, 200, 500) for per_s in (0.1, 1.0))]
        for ponds, each_per_s in cases:
            per_s = ponds * each_per_s
            what = f"{ponds} ponds, each {PER_MESSAGE * each_per_s:g} readings/s"
            runs.append(measure(what, ponds, per_s, max(ponds, int(per_s * args.seconds))))
            print(runs[-1], flush=True)
    else:
        flat = int(5_000 / PER_MESSAGE * args.seconds)
        runs.append(measure_bare(args.ponds, 0, flat))
        print(f"{runs[-1]}  (flat out)", flush=True)
        runs.append(measure(f"{args.ponds} ponds, flat out", args.ponds, 0, flat))
        print(runs[-1], flush=True)
        runs.append(measure(f"{args.ponds} ponds, 5 000 readings/s asked", args.ponds, 5_000 / PER_MESSAGE, flat))
        print(runs[-1], flush=True)
    return 0 if all(run.stored == run.readings for run in runs) else 1


if __name__ == "__main__":
    sys.exit(main())
