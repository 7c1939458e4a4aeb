"""Fuzz of the running service and its page, on every open door at once.

    python tests/benchmarks/open_doors.py [--minutes 60] [--seed S]

Garbage and broken valid input: on the serial port, which is unplugged too; by MQTT on the probes' topics, on those of
the pond as a device, and from a broker that speaks no MQTT; in the inbox, which others also lock and overwrite; by HTTP
at the page and at the links of messages, as bytes, as requests too large or too slow, and as forms of somebody signed
in; and as answers of the web hook and the sign of life. Meanwhile good readings are sent, and must all be read.

Afterwards: no reading of those lost, no traceback in what either process wrote, no fault of ours counted by a link or
answered by the page, no text from outside unescaped on a page, memory bounded, handles and threads as before, the store
whole, and an end in good order.
"""

from __future__ import annotations

import argparse
import json
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote, urlencode

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

sys.path.insert(0, str(Path(__file__).parent))
from fuzz import LINES, NUMBERS, OBJECTS, SCRIPTS, broken
from stage import (
    Broker,
    Figures,
    Port,
    command,
    configuration,
    ended,
    environment,
    figures,
    free_port,
    listens,
    wait_for,
)

from dawnline.delivery.ack_link import Claim, sign
from dawnline.delivery.homie import device_id
from dawnline.page.passphrase import hashed
from dawnline.service import now_file
from dawnline.store.inbox import inbox_path
from dawnline.store.reader import Reader

RATE = 20  # pond seconds in a second
GROWTH_MB = 20.0  # over what a process had after the first tenth
FEW = 3  # handles or threads more or less than before
POND, PASSPHRASE, KEY = "Open Doors", "four words are easy", "a key of links that is long enough"
MARK = b"<i>fuzz"  # in every text that somebody could show: unescaped it would be markup
CONFIGURATION = (
    configuration.place(POND, "pond.db", "volume_litres = 14000")
    + configuration.broker("{gate}", 'keepalive = "5s"')
    + configuration.serial("ph", "ph", "{port}", 'key = "ph"')
    + configuration.serial("water", "temperature", "{port}", 'key = "temp"')
    + configuration.mqtt("oxygen", "dissolved_oxygen", "pond/oxygen", 'key = "mg_l"', 'time_key = "time"')
    + configuration.mqtt("ph2", "ph", "pond/ph")
    + configuration.person("Ada", "http://127.0.0.1:{hook}/", 'quiet = "none"')
    + """
[alarms.ph-low]
on_delay = "2m"
off_delay = "2m"
[page]
port = {page}
address = "http://127.0.0.1:{page}"
passphrase = "file:passphrase"
link_key = "file:key"
[heartbeat]
url = "http://127.0.0.1:{hook}/alive"
every = "1m"
"""
)
PATHS = (
    "/", "/now-part", "/days", "/alarms", "/alarms-part", "/alarms/1/acknowledge", "/alarms/1/shelve",
    "/alarms/999999999999999999999/unshelve", "/logbook", "/logbook/add/hand-test", "/logbook/add/water-change",
    "/logbook/add/dose", "/logbook/add/feeding", "/logbook/add/note", "/logbook/add/%2e%2e", "/probes",
    "/probes/ph/buffers", "/probes/ph/buffers-part", "/probes/ph/buffers/begin", "/probes/ph/buffers/immersed",
    "/probes/ph/buffers/accept", "/doses", "/doses/raise-kh", "/doses/lower-ph", "/doses/water-change", "/doses/shell",
    "/acknowledge", "/sign-in", "/sign-out", "/style.css", "/page.js", "/../../etc/passwd", "//",
)  # fmt: skip
WORDS = (
    "from", "to", "t", "token", "name", "passphrase", "kh", "ph", "amount", "note", "when", "id", "for", "buffer",
    "file", "celsius", "temperature", "to_dkh", "share", "litres", "photo", "what", "product", "volume",
)  # fmt: skip
HEADS = (b"", b"\x20\x02\x00\x00", b"\x20\x02\x01\x00\x30\xff\xff\xff\x7f", b"\x90\x03")  # of packets of MQTT
STATUS = (b"999 ?", b"200", b"302 x\r\nLocation: file:///etc/passwd")
VALUES = (7.2, -1, 10**400, float("nan"), 1e308, [], {"a": {}}, None, True, "ph", [7.0, 25.0])
KINDS = (
    "acknowledge", "shelve", "unshelve", "hand-test", "water-change", "dose", "note", "calibration", "out-of-service",
    "return", "correct", "feeding", "rain", "top-up", "", "x" * 300, "no-such-kind",
)  # fmt: skip


@dataclass
class Found:
    """What came of it."""

    sent: Counter[str] = field(default_factory=Counter)
    answers: Counter[int] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    markers: set[float] = field(default_factory=set)
    pulled: set[float] = field(default_factory=set)  # good ones that were in the cable when it was pulled
    seconds: float = 0.0
    before: dict[str, Figures] = field(default_factory=dict)
    early: dict[str, Figures] = field(default_factory=dict)
    after: dict[str, Figures] = field(default_factory=dict)
    most_mb: dict[str, float] = field(default_factory=dict)


# ------------------------------------------------------------ texts from outside


def text(dice: Random) -> str:
    """Something that a person or a program might send, or rather not."""
    match dice.randrange(7):
        case 0:
            return dice.choice(NUMBERS).decode("ascii")[: dice.choice((3, 20, 400))]
        case 1:
            return dice.choice(SCRIPTS).encode("utf-8", "replace").decode()
        case 2:
            return MARK.decode() + "<script>alert(1)</script>" + "'\"&;--"
        case 3:
            return broken(dice, OBJECTS).decode("latin-1")
        case 4:
            return "%s%n{{7*7}}" * dice.choice((1, 40))
        case 5:
            return dice.choice(("2026-06-03", "0000-00-00", "9999-12-31", "2026-02-30T25:61", "today", "-1", "1e999"))
        case _:
            return dice.choice(("3", "7.2", "15%", "6 drops", "300 gal", "", "ph", "raise-kh", "hand-test"))


def line_of(value: float) -> bytes:
    """A good line."""
    return f"ph={value!r}\n".encode()


def in_the_cable(said: Sequence[float], unread: bytes) -> list[float]:
    """Of the values said, in their order, those whose line, or its end, is among what nobody had read."""
    whole = [value for value in said if line_of(value) in unread]
    first, end, _ = unread.partition(b"\n")
    before = [value for value in said if value not in whole][-1:]
    return whole + [value for value in before if first and end and line_of(value).endswith(first + end)]


class Door:
    """One door: `knock` does something to it, `pause_s` lies between; what fails on our side is counted alone."""

    pause_s = 0.02

    def __init__(self, found: Found, dice: Random) -> None:
        self.found, self.dice = found, dice

    def knock(self) -> None:
        """Once."""
        raise NotImplementedError

    def run(self, stopping: threading.Event) -> None:
        """Until told to stop."""
        while not stopping.wait(self.pause_s * self.dice.uniform(0.5, 1.5)):
            try:
                self.knock()
            except (OSError, sqlite3.Error) as error:
                self.found.sent[f"({type(self).__name__.lower()}: {type(error).__name__})"] += 1


class Serial(Door):
    """The serial port; now and then it is pulled."""

    def __init__(self, found: Found, dice: Random, port: Port, pull: Callable[[], bytes], opened: Callable[[], int]):
        """`pull` unplugs it and gives what nobody had read, `opened` tells how often the service has opened it."""
        super().__init__(found, dice)
        self.port, self.lock, self.pull, self.opened = port, threading.Lock(), pull, opened
        self.said: list[float] = []  # since it was plugged in

    def knock(self) -> None:
        """Bytes, or the plug."""
        dice = self.dice
        if dice.random() < 0.0003:
            with self.lock:
                times = self.opened()
                self.found.pulled.update(in_the_cable(self.said, self.pull()))
                self.said.clear()
                time.sleep(dice.uniform(0.05, 1))
                self.port.plug()
                # What is said to a port before it is open is heard by nobody: opening it empties it.
                wait_for(lambda: self.opened() > times, "the port opened again", 60)
            self.found.sent["serial: unplugged"] += 1
            return
        data = broken(dice, LINES) + dice.choice((b"\n", b"\r\n", b"", b"\x00", b"\n\n"))
        if dice.random() < 0.02:
            data = dice.randbytes(dice.choice((1, 100, 3000)))
        with self.lock:
            self.port.write(data[:3500])
        self.found.sent["serial: pieces"] += 1

    def good(self, value: float) -> bool:
        """A line that is whole, whatever was before."""
        with self.lock:
            self.said.append(value)
            return self.port.write(b"\n" * 2 + line_of(value))


class Mqtt(Door):
    """Topics and payloads, by a client of the same broker."""

    def __init__(self, found: Found, dice: Random, port: int) -> None:
        super().__init__(found, dice)
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="fuzz", clean_session=True)
        self.client.max_queued_messages_set(1000)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        base = f"homie/5/{device_id(POND)}"
        self.topics = (
            *("pond/oxygen",) * 4, *("pond/ph",) * 4, *(f"{base}/alarms/acknowledge/set",) * 3, f"{base}/$alert/x",
            f"{base}/$state", f"{base}/{'y' * 3000}", "pond/other", f"{base}/$alert/{MARK.decode()}", "pond/oxygen/set",
        )  # fmt: skip

    def knock(self) -> None:
        """One message."""
        dice = self.dice
        payload = broken(dice, (*OBJECTS, b'{"mg_l": 8.1, "time": "2026-06-03T04:30:00Z"}', b"1", b"17"))
        if dice.random() < 0.1:
            payload = text(dice).encode("utf-8", "surrogatepass")
        if dice.random() < 0.002:
            payload = dice.randbytes(dice.choice((70_000, 2_000_000)))
        topic = dice.choice(self.topics)
        self.client.publish(topic, payload, qos=dice.choice((0, 1, 1, 2)), retain=dice.random() < 0.03)
        self.found.sent["mqtt: messages"] += 1


class Gate(Door):
    """Between the service and its broker: cuts, and sometimes speaks nonsense in the broker's place."""

    pause_s = 45.0

    def __init__(self, found: Found, dice: Random, broker: int) -> None:
        super().__init__(found, dice)
        self.broker, self.nonsense, self.open = broker, False, list[socket.socket]()
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def knock(self) -> None:
        """Cut all, and for a while let nobody through."""
        self.nonsense = self.dice.random() < 0.7
        for each in self.open:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
        self.open.clear()
        time.sleep(self.dice.uniform(1, 6))
        self.nonsense = False
        self.found.sent["broker: cuts"] += 1

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self.server.accept()
            except OSError:
                return
            if self.nonsense:
                self.found.sent["broker: nonsense"] += 1
                with suppress(OSError):
                    near.sendall(self.dice.choice(HEADS) + self.dice.randbytes(self.dice.choice((0, 5, 200, 20_000))))
                threading.Timer(self.dice.uniform(0, 2), near.close).start()
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self.broker), timeout=5)
            except OSError:
                near.close()
                continue
            far.settimeout(None)
            self.open += [near, far]
            del self.open[:-20]
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=_pump, args=(one, other), daemon=True).start()


def _pump(source: socket.socket, target: socket.socket) -> None:
    with suppress(OSError):
        while data := source.recv(65_536):
            target.sendall(data)
    for each in (source, target):
        with suppress(OSError):
            each.shutdown(socket.SHUT_RDWR)
        each.close()


class Inboxes(Door):
    """The file that others may write: odd acts, a lock held too long, garbage over it."""

    pause_s = 0.3

    def __init__(self, found: Found, dice: Random, path: Path) -> None:
        super().__init__(found, dice)
        self.path = path

    def knock(self) -> None:
        """One act, or worse."""
        dice = self.dice
        chance = dice.random()
        if chance < 0.0005:
            self.path.write_bytes(dice.randbytes(dice.choice((0, 100, 5000))))
            time.sleep(10)
            self.path.unlink(missing_ok=True)
            self.found.sent["inbox: overwritten"] += 1
            return
        db = sqlite3.connect(self.path, timeout=2, isolation_level=None)
        try:
            if chance < 0.002:
                db.execute("BEGIN IMMEDIATE")
                time.sleep(dice.uniform(1, 7))
                db.execute("ROLLBACK")
                self.found.sent["inbox: held"] += 1
                return
            body: Any = {dice.choice(WORDS): _value(dice) for _ in range(dice.randrange(5))}
            if dice.random() < 0.3:
                body = {"id": dice.choice((1, 5, -1, 10**30, "1", None, True)), "for": "2h"}
            raw = json.dumps(body)
            if dice.random() < 0.2:
                raw = broken(dice, OBJECTS).decode("utf-8", "replace")
            row = (f"{dice.getrandbits(64):x}", dice.choice(KINDS), raw, text(dice).encode("utf-8", "replace").decode())
            db.execute("INSERT INTO acts (id, kind, body, actor) VALUES (?, ?, ?, ?)", row)
            self.found.sent["inbox: acts"] += 1
        finally:
            db.close()


def _value(dice: Random) -> Any:
    return text(dice) if dice.random() < 0.2 else dice.choice(VALUES)


class Http(Door):
    """The page: bytes, requests, forms; slowly, or too much at once."""

    pause_s = 0.05

    def __init__(self, found: Found, dice: Random, port: int) -> None:
        super().__init__(found, dice)
        self.port, self.cookie, self.token = port, "", ""

    def knock(self) -> None:
        """One connection."""
        dice = self.dice
        match dice.randrange(12):
            case 0:
                self._say(dice.randbytes(dice.choice((1, 40, 3000))))
            case 1:
                self._say(broken(dice, (self._request(), b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")))
            case 2:
                self._say(self._request()[: dice.randrange(200)], linger_s=dice.choice((0, 0, 0.5)))
            case 3:
                size = dice.choice((20_000, 300_000))
                self._say(b"POST /logbook/add/note HTTP/1.1\r\nHost: x\r\nX: " + b"a" * size + b"\r\n\r\n")
            case 4:
                size = dice.choice((100_000, 3_000_000))
                head = f"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1:{self.port}\r\nContent-Length: {size}\r\n\r\n"
                self._say(head.encode() + b"a=" + b"b" * (size - 2))
            case 5:
                length = dice.choice(("-1", "1e3", "9" * 40, "5, 6", "0x10", "\xb2"))
                self._say(f"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: {length}\r\n\r\nhallo".encode("latin-1"))
            case 6:
                chunk = dice.choice((b"ffffffffffffff\r\nx", b"-1\r\n\r\n", b"5\r\nab", b"zz\r\n", b"0\r\n\r\n"))
                self._say(b"POST /sign-in HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n" + chunk)
            case 7:
                self._say(self._link(), patience_s=8)
            case _:
                self._say(self._request(), patience_s=8)
        self.found.sent["page: connections"] += 1

    def sign_in(self) -> None:
        """As the keeper, for forms that pass the first questions."""
        answer = self._say(
            self._request("POST", "/sign-in", urlencode({"passphrase": PASSPHRASE, "name": "Ada"})), patience_s=20
        )
        for line in answer.split(b"\r\n"):
            if line.lower().startswith(b"set-cookie: dawnline="):
                self.cookie = line.split(b"=", 1)[1].split(b";")[0].decode()
        head = f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{self.port}\r\nConnection: close\r\n"
        page = self._say(f"{head}Cookie: dawnline={self.cookie}\r\n\r\n".encode(), patience_s=20)
        if b'name="token" value="' in page:
            self.token = page.split(b'name="token" value="', 1)[1].split(b'"')[0].decode()

    def _link(self) -> bytes:
        """The link of a message: sound, of another pond, or broken."""
        dice = self.dice
        claim = Claim(dice.choice((POND, "x")), (dice.choice((1, 7, 10**12)),), MARK.decode(), 1 << 50)
        token = sign(claim, KEY.encode()).encode()
        token = token if dice.random() < 0.5 else broken(dice, (token, b"x.y"))
        form = urlencode({"t": token})
        get = dice.random() < 0.5
        return self._request("GET", f"/acknowledge?{form}") if get else self._request("POST", "/acknowledge", form)

    def _request(self, method: str = "", path: str = "", form: str | None = None) -> bytes:
        dice = self.dice
        if not method:
            method = dice.choice(("GET", "GET", "POST", "POST", "HEAD", "PUT", "OPTIONS", "\x00"))
            path = dice.choice(PATHS)
            fields = {dice.choice(WORDS): text(dice).encode("utf-8", "replace") for _ in range(dice.randrange(6))}
            if method == "POST":
                form = urlencode({**fields, "token": self.token} if dice.random() < 0.8 else fields)
            elif fields:
                path += "?" + urlencode(fields)
            if dice.random() < 0.05:
                path += quote(text(dice).encode("utf-8", "replace"), safe=dice.choice(("", "/%<>\"'")))
        head = [f"{method} {path} HTTP/1.1", f"Host: 127.0.0.1:{self.port}", "Connection: close"]
        if self.cookie and dice.random() < 0.9:
            cookie = self.cookie if dice.random() < 0.9 else self.cookie[: dice.randrange(200)]
            head.append(f"Cookie: dawnline={cookie}")
        if form is not None:
            head += [f"Content-Length: {len(form)}", "Content-Type: application/x-www-form-urlencoded"]
        return ("\r\n".join(head) + "\r\n\r\n" + (form or "")).encode("latin-1", "replace")

    def _say(self, data: bytes, linger_s: float = 0.0, patience_s: float = 0.5) -> bytes:
        answer = b""
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as line:
            with suppress(ConnectionError):  # it need not hear us out
                line.sendall(data)
            time.sleep(linger_s)
            with suppress(ConnectionError, TimeoutError):
                line.settimeout(patience_s)
                while (part := line.recv(65_536)) and len(answer) < 3_000_000:
                    answer += part
        self._look_at(answer, data)
        return answer

    def _look_at(self, answer: bytes, asked: bytes) -> None:
        if answer.startswith(b"HTTP/1."):
            status = int(answer[9:12])
            self.found.answers[status] += 1
            if status == 500:
                self.found.wrong.append(f"the page fell over {asked[:300]!r}: {answer[-200:]!r}")
        if MARK in answer or b"<script>alert" in answer or b"Traceback" in answer:
            self.found.wrong.append(f"in an answer to {asked[:300]!r}: {answer[:2000]!r}")


class Slow(Http):
    """Keeps connections waiting, a byte at a time."""

    pause_s = 1.0

    def knock(self) -> None:
        """A request that takes its time."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=10) as line, suppress(ConnectionError):
            for byte in self._request()[: self.dice.randrange(5, 60)]:
                line.sendall(bytes([byte]))
                time.sleep(0.25)
        self.found.sent["page: slow ones"] += 1


class Hook(Door):
    """What the web hook and the sign of life get back: anything, at any pace."""

    pause_s = 3600.0

    def __init__(self, found: Found, dice: Random) -> None:
        super().__init__(found, dice)
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def knock(self) -> None:
        """It answers only."""

    def _accept(self) -> None:
        while True:
            try:
                line, _ = self.server.accept()
            except OSError:
                return
            threading.Thread(target=self._answer, args=(line,), daemon=True).start()

    def _answer(self, line: socket.socket) -> None:
        dice = self.dice
        self.found.sent["hook: answers"] += 1
        with line, suppress(OSError):
            line.settimeout(5)
            line.recv(65_536)
            match dice.randrange(8):
                case 0 | 1 | 2:
                    line.sendall(b"HTTP/1.1 204 No Content\r\n\r\n")
                case 3:
                    line.sendall(dice.randbytes(dice.choice((1, 50, 5000))))
                case 4:
                    line.sendall(b"HTTP/1.1 " + dice.choice(STATUS) + b"\r\n\r\n")
                case 5:
                    line.sendall(b"HTTP/1.1 200 OK\r\n" + b"X: y\r\n" * dice.choice((10, 500)) + b"\r\n")
                case 6:
                    with suppress(OSError):
                        line.sendall(b"HTTP/1.1 503 x\r\nRetry-After: -5e9\r\nContent-Length: 9999999999\r\n\r\n")
                        for _ in range(dice.choice((1, 100))):
                            line.sendall(MARK * 2000)
                case _:
                    time.sleep(dice.uniform(0, 12))


# ------------------------------------------------------------ the run


def run(minutes: float, seed: int, show: Callable[[str], None] = print) -> Found:
    """All of it. What is wrong stands in `Found.wrong`."""
    found, begun = Found(), time.monotonic()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="dawnline-doors-")))
        stage = _Stage(folder, found, seed, stack)
        found.before = stage.figures()
        stopping = threading.Event()
        threads = [threading.Thread(target=door.run, args=(stopping,), daemon=True) for door in stage.doors]
        for each in threads:
            each.start()
        _meanwhile(stage, found, begun, minutes * 60, show)
        stopping.set()
        for each in threads:
            each.join(20)
        stage.settle(min(20.0, minutes * 60))
        found.after = stage.figures()
        _judge(stage, found)
        found.seconds = time.monotonic() - begun
    return found


class _Stage:
    """The service and its page, and all doors."""

    def __init__(self, folder: Path, found: Found, seed: int, stack: ExitStack) -> None:
        def dice(name: str) -> Random:
            return Random(f"{seed}/{name}")

        self.folder, self.found = folder, found
        (folder / "passphrase").write_text(hashed(PASSPHRASE) + "\n")
        (folder / "key").write_text(KEY + "\n")
        broker = Broker(folder / "broker")
        stack.callback(broker.down)
        self.gate = Gate(found, dice("gate"), broker.port)
        hook, page_port = Hook(found, dice("hook")), free_port()
        for each in (self.gate.server, hook.server):
            stack.callback(each.close)
        port = Port(folder / "probe")
        stack.callback(port.unplug)
        self.config = folder / "dawnline.toml"
        ports = {"gate": self.gate.port, "hook": hook.port, "page": page_port, "port": folder / "probe"}
        self.config.write_text(CONFIGURATION.format(**ports), encoding="utf-8")
        self.store = folder / "pond.db"
        self.logs = {name: folder / f"{name}.log" for name in ("service", "page")}
        self.processes = {"service": self._start(stack, "service", "run")}
        wait_for(lambda: b"connected" in self.logs["service"].read_bytes(), "the first subscription", 300)
        self.processes["page"] = self._start(stack, "page", "page")
        wait_for(lambda: listens(page_port), "the page", 300)
        self.serial, self.mqtt = (
            Serial(found, dice("serial"), port, self._pull, self._opened),
            Mqtt(found, dice("mqtt"), broker.port),
        )
        browsers = [Http(found, dice(f"http {number}"), page_port) for number in range(4)]
        for each in browsers[1:]:  # one of them never does
            each.sign_in()
        if not all(each.token for each in browsers[1:]):
            found.wrong.append("nobody could sign in")
        inbox = Inboxes(found, dice("inbox"), inbox_path(self.store))
        self.doors = [self.serial, self.mqtt, self.gate, inbox, *browsers, Slow(found, dice("slow"), page_port)]
        time.sleep(3)

    def _start(self, stack: ExitStack, name: str, word: str) -> subprocess.Popen[bytes]:
        log = stack.enter_context(self.logs[name].open("wb"))
        around = environment(self.folder, {"DAWNLINE_CLOCK_RATE": str(RATE)} if name == "service" else {})
        words = command(self.config, word)
        process = subprocess.Popen(words, env=around, stdout=subprocess.DEVNULL, stderr=log)
        stack.callback(lambda: (process.kill(), process.wait()))
        return process

    def _pull(self) -> bytes:
        """Pull the serial cable; what was in it, read while the service is held still: a byte has one reader."""
        service = self.processes["service"]
        service.send_signal(signal.SIGSTOP)
        try:
            return self.serial.port.unplug()
        finally:
            service.send_signal(signal.SIGCONT)

    def _opened(self) -> int:
        """How often the service has opened the serial port."""
        lines = self.logs["service"].read_bytes().splitlines()
        return sum(b'"connected"' in line and b"serial:" in line for line in lines)

    def figures(self) -> dict[str, Figures]:
        """Of both, as far as they run."""
        return {name: figures(each.pid) for name, each in self.processes.items() if each.poll() is None}

    def settle(self, seconds: float) -> None:
        """Every door is left alone: what hangs times out, and the last readings are read."""
        self.serial.port.plug()
        time.sleep(seconds)

    def values(self) -> set[float]:
        """All that stands in the store."""
        with Reader.open(self.store) as reader:
            return {each.value for name in ("ph", "ph2") for each in reader.readings(name, 0, 1 << 60)}


def _meanwhile(stage: _Stage, found: Found, begun: float, seconds: float, show: Callable[[str], None]) -> None:
    """Good readings, each with a value of its own; figures now and then."""
    number, shown, until = 0, begun, time.monotonic() + seconds
    while (now := time.monotonic()) < until:
        number += 1
        value = 7.2 + 0.3 * (number % 7 < 3) + number * 1e-7
        if stage.serial.good(value):
            found.markers.add(value)
        info = stage.mqtt.client.publish("pond/ph", repr(value + 5e-8), qos=1)
        if info.rc == 0:
            found.markers.add(value + 5e-8)
        if now - begun > seconds / 10 and not found.early:
            found.early = stage.figures()
        for name, each in stage.figures().items():
            found.most_mb[name] = max(found.most_mb.get(name, 0.0), each.mb)
        if now - shown > max(30.0, seconds / 12):
            shown = now
            show(f"{(now - begun) / 60:5.1f} min  " + ", ".join(f"{n}: {f}" for n, f in stage.figures().items()))
            if not now_file_says(stage):
                found.wrong.append("the present is stale")
        dead = [name for name, each in stage.processes.items() if each.poll() is not None]
        if dead:
            found.wrong.append(f"{dead} ended by itself")
            return
        time.sleep(0.5)


def now_file_says(stage: _Stage) -> dict[str, Any]:
    """The present of the service, {} where it is not current."""
    path = stage.folder / now_file.file_name(stage.store)
    with suppress(OSError, ValueError):
        said: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        if now_file.is_current(said):
            return said
    return {}


def _judge(stage: _Stage, found: Found) -> None:
    wrong = found.wrong
    present = now_file_says(stage)
    for link in present.get("links", [{}]):
        faults = {why: count for why, count in link.get("bad", {}).items() if "fault" in why}
        if not link or faults:
            wrong.append(f"link: {link or 'none in the present'}")
    stage.processes["service"].send_signal(signal.SIGCONT)
    for name, process in stage.processes.items():
        if (status := ended(process)) != 0:
            wrong.append(f"{name} ended with status {status}: {stage.logs[name].read_text()[-1500:]}")
        said = stage.logs[name].read_text("utf-8", "replace")
        for word in ("Traceback", "crashed", "fault of"):
            if word in said:
                at = said.index(word)
                wrong.append(f"{name} wrote: {said[max(0, at - 500) : at + 1500]}")
    found.sent["serial: good lines in a pulled cable"] = len(found.pulled)
    lost = found.markers - found.pulled - stage.values()
    if lost or not found.markers:
        wrong.append(f"{len(lost)} of {len(found.markers)} good readings lost: {sorted(lost)[:5]}")
    done = subprocess.run(command(stage.config, "store", "verify"), capture_output=True, text=True, check=False)
    if done.returncode != 0:
        wrong.append(f"store verify: {done.stdout}{done.stderr}")
    for name, after in found.after.items():
        early, before = found.early.get(name, after), found.before[name]
        if after.mb - early.mb > GROWTH_MB:
            wrong.append(f"{name} grew from {early.mb:.1f} to {after.mb:.1f} MB")
        if after.files > before.files + FEW or after.threads > max(before.threads, early.threads) + FEW:
            wrong.append(f"{name} leaks: {before} before, {early} early, {after} after")


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    found = run(args.minutes, args.seed, lambda line: print(line, flush=True))
    print(f"{found.seconds / 60:.1f} min, seed {args.seed}, {len(found.markers)} good readings among it")
    print("  " + ", ".join(f"{what} {count}" for what, count in sorted(found.sent.items())))
    print("  the page answered " + ", ".join(f"{code}: {n}" for code, n in sorted(found.answers.items())))
    for name, after in found.after.items():
        print(f"  {name}: {found.before[name]} before, {found.early.get(name)} after a tenth, {after} at the end,")
        print(f"    {found.most_mb[name]:.1f} MB at most")
    for each in found.wrong[:20]:
        print("WRONG", each)
    return 1 if found.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
