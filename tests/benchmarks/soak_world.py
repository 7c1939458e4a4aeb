"""The world of the soak: its time, its card, its servers, its probes and the service, and each way to trouble them."""

from __future__ import annotations

import json
import math
import signal
import subprocess
import sys
import threading
import time
import urllib.request
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote

from aiosmtpd.controller import Controller
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

sys.path.insert(0, str(Path(__file__).parent))
from card import Card, possible
from fuzz import LINES, OBJECTS, broken
from stage import Broker, Figures, Port, command, configuration, environment, figures, free_port, program, wait_for
from steered import Clock

CARD_MB = 160
START = datetime(2025, 3, 1, tzinfo=UTC).timestamp()  # in the past: a database refuses points of the future
TIMES = {"fast": (40_000.0, 300.0), "slow": (120.0, 10.0)}  # pond seconds a second; pond seconds between readings
WINDOW_S = 8.0
CONFIGURATION = (
    configuration.place("Soak", "{card}/pond.db", "volume_litres = 14000")
    + configuration.broker("{broker}")
    + configuration.serial("ph", "ph", "{probe}", 'key = "ph"')
    + configuration.mqtt("ph2", "ph", "pond/ph")
    + configuration.mqtt("water", "temperature", "pond/water", 'key = "c"', 'time_key = "t"')
    + configuration.person("Ada", "http://127.0.0.1:{hook}/", 'quiet = "none"')
    + configuration.person("Bo", "mailto:bo@example.org", 'quiet = "none"', 'priority = "medium"')
    + """
[clock]
trust = "always"
[mail]
host = "127.0.0.1"
port = {mail}
security = "none"
sender = "pond@example.org"
[influxdb]
url = "http://127.0.0.1:{metrics}"
bucket = "ponds"
[alarms.ph-low]
on_delay = "2m"
off_delay = "2m"
[alarms.ph-crash]
on_delay = "1m"
off_delay = "2m"
[alarms.no-data]
on_delay = "3h"
"""
)


class Servers:
    """A web hook, a mail server and a database of readings; what they were given."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.ports = {name: free_port() for name in ("hook", "mail", "metrics")}
        self.letters: list[dict[str, Any]] = []
        self.mails: list[tuple[str, str]] = []
        self._up: dict[str, Any] = {}
        for name in self.ports:
            self.up(name)

    def up(self, name: str) -> None:
        """Start one of them."""
        if name not in self._up:
            self._up[name] = getattr(self, f"_start_{name}")(self.ports[name])

    def down(self, name: str) -> None:
        """Stop one of them."""
        running = self._up.pop(name, None)
        if isinstance(running, ThreadingHTTPServer):
            running.shutdown()
            running.server_close()
        elif isinstance(running, Controller):
            running.stop()
        elif running is not None:
            running.send_signal(signal.SIGCONT)
            running.terminate()  # killed, it would forget what it has confirmed
            running.wait()

    def freeze(self, name: str) -> None:
        """Leave the process standing still; `up` does not help, `thaw` does."""
        self._up[name].send_signal(signal.SIGSTOP)

    def thaw(self, name: str) -> None:
        """Let it go on."""
        self._up[name].send_signal(signal.SIGCONT)

    def held(self) -> set[tuple[str, int, float]]:
        """Probe, time and value of all that the database holds."""
        url = f"http://127.0.0.1:{self.ports['metrics']}"
        urllib.request.urlopen(f"{url}/internal/force_flush").read()
        found = urllib.request.urlopen(f"{url}/api/v1/export?match[]={quote('reading_value')}").read()
        held = set()
        for line in found.decode().splitlines():
            row = json.loads(line)
            probe = row["metric"]["probe"]
            held |= {(probe, at, value) for at, value in zip(row["timestamps"], row["values"], strict=True)}
        return held

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        """Take a mail."""
        head, _, body = envelope.content.decode("utf-8", "replace").partition("\r\n\r\n")
        subject = next(line for line in head.splitlines() if line.lower().startswith("message-id"))
        self.mails.append((subject, body))
        return "250 OK"

    def _start_mail(self, port: int) -> Controller:
        controller = Controller(self, hostname="127.0.0.1", port=port, ident="soak")
        controller.start()
        return controller

    def _start_hook(self, port: int) -> ThreadingHTTPServer:
        letters = self.letters

        class Hook(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                letters.append(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
                self.send_response(204)
                self.end_headers()

            def log_message(self, *_: object) -> None:
                pass

        server = ThreadingHTTPServer(("127.0.0.1", port), Hook)
        threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True).start()
        return server

    def _start_metrics(self, port: int) -> subprocess.Popen[bytes]:
        words = [
            program("victoria-metrics"), f"-httpListenAddr=127.0.0.1:{port}",
            f"-storageDataPath={self.folder / 'metrics'}", "-retentionPeriod=100y", "-dedup.minScrapeInterval=1ms",
            "-search.latencyOffset=0s", "-search.disableCache", "-memory.allowedBytes=200MB",
        ]  # fmt: skip
        process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

        def healthy() -> bool:
            with suppress(OSError):
                return bool(urllib.request.urlopen(f"http://127.0.0.1:{port}/health", timeout=1).read())
            return False

        wait_for(healthy, "the database")
        return process


class Probes(threading.Thread):
    """Three probes that speak on time, each value one of its own; what was acknowledged stands in `acknowledged`."""

    def __init__(self, world: World) -> None:
        super().__init__(daemon=True)
        self.world = world
        self.acknowledged: set[tuple[str, float]] = set()  # the broker has it
        self.spoken: list[tuple[float, float]] = []  # of the serial probe: when (machine), value
        self.held = False  # the sensors see no broker and keep what they have
        self.dip: tuple[float, float] | None = None  # from when to when (pond) the pH falls and rises
        self.stopping = False
        self.number = 0
        self._kept: list[tuple[str, str, float, str]] = []
        self._out: dict[int, tuple[str, float]] = {}
        self._early: set[int] = set()
        self._lock = threading.Lock()
        self.client = Client(CallbackAPIVersion.VERSION2, client_id="soak-probes", clean_session=True)
        self.client.on_publish = self._published
        self.client.max_inflight_messages_set(1000)
        self.client.connect("127.0.0.1", world.broker.port)
        self.client.loop_start()

    def run(self) -> None:
        """Until told to stop."""
        due = self.world.true_s()
        while not self.stopping:
            interval, now = TIMES[self.world.pace][1], self.world.true_s()
            due = max(due, now - 20 * interval) if due <= now + interval else now
            while due <= now:
                self._speak(due)
                due += interval
            time.sleep(max(0.001, min(0.05, (due - now) / TIMES[self.world.pace][0])))

    def hold(self) -> None:
        """Wait until nothing is on its way, then keep what is measured: else it would be sent twice over."""
        self.held = True
        wait_for(lambda: not self._out, "the probes' last messages", 30)

    def release(self) -> None:
        """Send what was kept."""
        wait_for(self.client.is_connected, "the probes' connection", 60)
        self.held = False

    def outstanding(self) -> int:
        """How many messages the broker has not acknowledged."""
        return len(self._out) + len(self._kept)

    @staticmethod
    def number_of(value: float) -> int:
        """Which it was that said this pH."""
        return round((value - round(value, 2)) * 1e9)

    def _ph(self, at: float) -> float:
        day = 2 * math.pi * (at % 86_400) / 86_400
        found = 7.7 - 0.25 * math.cos(day - 0.8) - 0.1 * math.sin(2 * math.pi * at / (90 * 86_400))
        if self.dip is not None and self.dip[0] <= at <= self.dip[1]:
            found -= (found - 5.6) * (1 - math.cos(2 * math.pi * (at - self.dip[0]) / (self.dip[1] - self.dip[0]))) / 2
        return found

    def _speak(self, at: float) -> None:
        self.number += 1
        own = self.number * 1e-9  # the last digits count, so that each value is one of its own
        ph = round(self._ph(at), 2) + own
        if self.world.port.write(f"ph={ph:.9f}\n".encode()):
            self.spoken.append((time.monotonic(), round(ph, 9)))
        twin, water = round(ph + 0.01, 9), round(round(16 + 3 * math.sin(at / 86_400), 1) + own, 9)
        said: dict[str, Any] = {"c": water}
        if self.world.pace == "slow":  # in fast time it would come too late to be judged
            said["t"] = datetime.fromtimestamp(at, UTC).isoformat(timespec="milliseconds")
        if self.world.pace == "slow" or self.number % 3 == 0:
            self._kept.append(("ph2", "pond/ph", twin, f"{twin:.9f}"))
            self._kept.append(("water", "pond/water", water, json.dumps(said)))
        if self.held:
            return
        kept, self._kept = self._kept, []
        for probe, topic, value, payload in kept:
            info = self.client.publish(topic, payload, qos=1)
            with self._lock:
                if info.mid in self._early:
                    self._early.discard(info.mid)
                    self.acknowledged.add((probe, value))
                else:
                    self._out[info.mid] = probe, value

    def _published(self, _c: Any, _d: Any, mid: int, *_: Any) -> None:
        with self._lock:
            known = self._out.pop(mid, None)
            if known is None:
                self._early.add(mid)
            else:
                self.acknowledged.add(known)


@dataclass(frozen=True)
class Fault:
    """One way to trouble it: what begins it and what ends it. `ends`: the process does not outlive it."""

    begin: Callable[[], object]
    end: Callable[[], object] = lambda: None
    ends: bool = False


class World:
    """Everything, in `folder`."""

    def __init__(self, folder: Path, dice: Random, stack: ExitStack) -> None:
        self.folder, self.dice = folder, dice
        self.pace, self._machine_s, self._pond_s, self.step_s = "slow", time.time(), START, 0.0
        self.clock = Clock(folder / "clock")
        self.set_pace("slow")
        self.has_card = possible()
        self.card_lock = (
            threading.RLock()
        )  # held while anybody but the service has a file of it open, or it is taken out
        self.card = Card(folder, CARD_MB) if self.has_card else None
        self.store = (folder if self.card is None else self.card.path) / "pond.db"
        if self.card is not None:
            stack.callback(self.card.remove)
        self.broker = Broker(folder / "broker")
        stack.callback(self.broker.down)
        self.servers = Servers(folder)
        for name in self.servers.ports:
            stack.callback(self.servers.down, name)
        self.port = Port(folder / "probe")
        self.config, self.log = folder / "dawnline.toml", folder / "service.log"
        places = {"card": self.store.parent, "broker": self.broker.port, "probe": self.port.path, **self.servers.ports}
        self.config.write_text(CONFIGURATION.format(**places), encoding="utf-8")
        self.watched = True
        self.starts, self.ended = 0, Counter[int]()
        self.unwritten: list[tuple[float, float]] = []  # pond time in which the card took nothing, and lost its power
        self._failed_s = 0.0
        self.begun_s = 0.0  # pond time at which this process began
        self._file = stack.enter_context(self.log.open("wb"))
        self.service = self._start()
        stack.callback(self._kill)
        threading.Thread(target=self._manager, daemon=True).start()
        # A broker keeps nothing for a client it has never seen.
        if not wait_for(lambda: self.log.read_bytes().count(b'"connected"') >= 2, "the first subscription", 300):
            raise SystemExit(self.log.read_text("utf-8", "replace")[-3000:])
        self.probes = Probes(self)
        self.probes.start()

    # ------------------------------------------------------------ time

    def true_s(self) -> float:
        """Pond time as it is [Unix s], whatever the board's clock says."""
        return self._pond_s + (time.time() - self._machine_s) * TIMES[self.pace][0]

    def set_pace(self, pace: str, step_s: float | None = None) -> None:
        """From now on; with `step_s`, the board's clock is off by so much."""
        true = self.true_s()
        self._machine_s, self._pond_s, self.pace = time.time(), true, pace
        self.step_s = self.step_s if step_s is None else step_s
        self.clock.set(self._machine_s, true + self.step_s, TIMES[pace][0])

    # ------------------------------------------------------------ the service and its manager

    def _start(self) -> subprocess.Popen[bytes]:
        self.starts += 1
        self.begun_s = self.true_s()
        words = [sys.executable, str(Path(__file__).with_name("steered.py")), str(self.folder / "clock")]
        words += command(self.config, "run")[3:]
        around = environment(self.folder, {})
        return subprocess.Popen(words, env=around, stdout=subprocess.DEVNULL, stderr=self._file)

    def _manager(self) -> None:
        """As `Restart=always`: whatever ends it, it is started again."""
        while True:
            time.sleep(0.1)
            if self.watched and (status := self.service.poll()) is not None:
                self.ended[status] += 1
                time.sleep(0.4)
                if self.watched:
                    self.service = self._start()

    def _kill(self) -> None:
        self.watched = False
        self.service.kill()
        self.service.wait()

    def restart(self, sig: int = signal.SIGKILL) -> None:
        """End it this way, and begin anew."""
        self.watched = False
        self.service.send_signal(signal.SIGCONT)
        self.service.send_signal(sig)
        with suppress(subprocess.TimeoutExpired):
            self.service.wait(15)
        self._kill()
        self.service = self._start()
        self.watched = True

    def figures(self) -> Figures | None:
        """Of the service; None where it does not run."""
        with suppress(OSError, KeyError):
            return figures(self.service.pid)
        return None

    # ------------------------------------------------------------ faults

    def faults(self) -> dict[str, Fault]:
        """Each by its name."""
        servers, dice = self.servers, self.dice
        found = {
            "probe unplugged": Fault(self.port.unplug, self.port.plug),
            "garbage on the serial line": Fault(lambda: self._garble(self._serial_garbage)),
            "garbage by MQTT": Fault(lambda: self._garble(self._mqtt_garbage)),
            "broker stopped": Fault(self._broker_down, self._broker_up),
            "broker frozen": Fault(
                lambda: self._signal_broker(signal.SIGSTOP), lambda: self._signal_broker(signal.SIGCONT)
            ),
            "database stopped": Fault(lambda: servers.down("metrics"), lambda: servers.up("metrics")),
            "database frozen": Fault(lambda: servers.freeze("metrics"), lambda: servers.thaw("metrics")),
            "web hook away": Fault(lambda: servers.down("hook"), lambda: servers.up("hook")),
            "mail server away": Fault(lambda: servers.down("mail"), lambda: servers.up("mail")),
            "clock set forward, and back": Fault(
                lambda: self._clock(dice.uniform(60, 86_400)), lambda: self._clock(0.0)
            ),
            "clock set back, and forward": Fault(
                lambda: self._clock(-dice.uniform(60, 7200)), lambda: self._clock(0.0)
            ),
            "SIGSTOP": Fault(
                lambda: self.service.send_signal(signal.SIGSTOP), lambda: self.service.send_signal(signal.SIGCONT)
            ),
            "SIGKILL": Fault(self.restart, ends=True),
            "SIGTERM": Fault(lambda: self.restart(signal.SIGTERM), ends=True),
        }
        card = self.card
        if card is not None:
            found |= {
                "card full": Fault(card.fill, card.clear),
                "writes refused": Fault(lambda: card.refuse(True), lambda: card.refuse(False)),
                "card read-only": Fault(self._fail, self._mend, ends=True),
                "power cut": Fault(self._power_cut, ends=True),
            }
        return found

    def _broker_down(self) -> None:
        self._signal_broker(signal.SIGCONT)  # frozen, it would answer nothing
        self.probes.hold()
        self.broker.down()

    def _broker_up(self) -> None:
        self.broker.up()
        self.probes.release()

    def _signal_broker(self, sig: int) -> None:
        if self.broker.process is not None:
            self.broker.process.send_signal(sig)

    def _clock(self, step_s: float) -> None:
        self.set_pace(self.pace, step_s)

    def _garble(self, once: Callable[[], object]) -> None:
        until = time.monotonic() + 2
        while time.monotonic() < until:
            once()
            time.sleep(0.01)

    def _serial_garbage(self) -> None:
        data = self.dice.randbytes(60) if self.dice.random() < 0.2 else broken(self.dice, LINES)
        self.port.write(data.replace(b"ph", b"hp")[:500] + b"\n")

    def _mqtt_garbage(self) -> None:
        topic = self.dice.choice(("pond/ph", "pond/water", "pond/else"))
        self.probes.client.publish(topic, broken(self.dice, OBJECTS)[:5000] + b"\xff", qos=0)

    def _power_cut(self) -> None:
        """The card loses what was not synchronised, the process its life; both come back."""
        assert self.card is not None
        self.watched = False
        with self.card_lock:
            self.card.cut()
            self._kill()
            self.card.remove()
            self.card.insert()
        self.service = self._start()
        self.watched = True

    def _fail(self) -> None:
        assert self.card is not None
        self._failed_s = self.true_s()
        self.card.fail()

    def _mend(self) -> None:
        """The keeper takes the power away, checks the card, and puts it back."""
        assert self.card is not None
        self.watched = False
        with self.card_lock:
            self._kill()
            self.card.mend()
        self.unwritten.append((self._failed_s - 1800, self.true_s() + 1800))
        self.service = self._start()
        self.watched = True
