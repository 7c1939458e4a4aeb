"""Kill test: the service is killed (SIGKILL) again and again while readings flow in by MQTT.

    python tests/benchmarks/kill.py --kills 200

A real broker, the real service, a publisher at 50 messages a second (QoS 1) and a web hook. Pond time runs sixty times
faster, so that alarms come and go. Afterwards every message that the broker took must stand in the store exactly once,
the alarms in the store must be those that a replay of the stored readings gives, and each notice must have arrived.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

sys.path.insert(0, str(Path(__file__).parent))
from stage import Broker, broker, mqtt, person, place, wait_for

from dawnline.store.reader import Reader

RATE = 60
PERIOD_S = 24.0  # of the wave that crosses the limit
# Five kills at each pace in turn: while starting; just after connecting, with much redelivered; in the midst of work.
PACES = ((0.05, 0.6), (0.3, 0.7), (0.5, 2.0))
CONFIGURATION = (
    place("Kill Test")
    + broker("{port}")
    + mqtt("ph", "ph", "pond/ph")
    + person("Receiver", "http://127.0.0.1:{hook}/")
    + """
[alarms.ph-low]
on_delay = "2m"
off_delay = "2m"
[alarms.ph-crash]
on_delay = "1m"
off_delay = "2m"
"""
)


@dataclass
class Result:
    """What was counted."""

    kills: int
    published: int
    lost: int
    doubled: int
    strange: int
    alarms: int
    alarm_differences: list[str]
    notices: int
    notices_missing: int
    notices_doubled_unmarked: int
    seconds: float

    @property
    def well(self) -> bool:
        """Nothing lost, nothing doubled."""
        bad = (self.lost, self.doubled, self.strange, self.notices_missing, self.notices_doubled_unmarked)
        return not any(bad) and not self.alarm_differences and self.alarms > 0


@dataclass
class Publisher:
    """Publishes the wave and remembers what the broker has acknowledged."""

    port: int
    acknowledged: set[float] = field(default_factory=set)
    sent: dict[int, float] = field(default_factory=dict)
    early: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="kill-test-publisher", clean_session=True)
        self._client.on_publish = self._on_publish
        self._client.connect("127.0.0.1", self.port)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _on_publish(self, _client: object, _data: object, mid: int, _reason: object, _properties: object) -> None:
        with self._lock:
            value = self.sent.pop(mid, None)
            if value is None:
                self.early.add(mid)
            else:
                self.acknowledged.add(value)

    def _run(self) -> None:
        begun, number = time.monotonic(), 0
        while not self._stop.is_set():
            number += 1
            wave = 6.6 + 0.5 * math.cos(2 * math.pi * (time.monotonic() - begun) / PERIOD_S)
            value = round(wave, 3) + number * 1e-8  # one of its own for each message
            info = self._client.publish("pond/ph", repr(value), qos=1)
            with self._lock:
                if info.mid in self.early:
                    self.early.discard(info.mid)
                    self.acknowledged.add(value)
                else:
                    self.sent[info.mid] = value
            due = begun + number / 50
            time.sleep(max(0.0, due - time.monotonic()))

    def finish(self) -> None:
        """Stop publishing and wait for the last acknowledgements."""
        self._stop.set()
        self._thread.join()
        until = time.monotonic() + 10
        while self.sent and time.monotonic() < until:
            time.sleep(0.02)
        self._client.disconnect()
        self._client.loop_stop()


class Hook(BaseHTTPRequestHandler):
    """Takes notices."""

    taken: list[dict[str, Any]] = []  # noqa: RUF012 - one receiver a process

    def do_POST(self) -> None:
        """Take one."""
        body = self.rfile.read(int(self.headers["Content-Length"]))
        Hook.taken.append(json.loads(body))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing."""


def stored(store: Path) -> Counter[float]:
    """How often each value stands in the store."""
    if not store.exists():
        return Counter()
    with Reader.open(store) as reader:
        return Counter(each.value for each in reader.readings("ph", 0, 1 << 60))


def run(kills: int, seed: int) -> Result:
    """The whole test."""
    begun, dice = time.monotonic(), random.Random(seed)
    Hook.taken = []
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="dawnline-kill-")))
        server = ThreadingHTTPServer(("127.0.0.1", 0), Hook)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        stack.callback(server.server_close)
        stack.callback(server.shutdown)
        taker = Broker(folder / "broker")
        stack.callback(taker.down)
        port = taker.port
        config = folder / "dawnline.toml"
        config.write_text(CONFIGURATION.format(port=port, hook=server.server_address[1]), encoding="utf-8")
        noon = datetime(2026, 6, 10, 10, tzinfo=UTC).isoformat()
        environment = {**os.environ, "DAWNLINE_CLOCK_RATE": f"{RATE}@{noon}@{time.time():.3f}"}
        log = stack.enter_context((folder / "service.log").open("wb"))

        def start() -> subprocess.Popen[bytes]:
            words = [sys.executable, "-m", "dawnline.cli", "--config", str(config), "run"]
            return subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=log)

        service = start()
        # The subscription must stand before the first message: a broker keeps nothing for a client it has never seen.
        wait_for(lambda: b"connected" in (folder / "service.log").read_bytes(), "the first subscription")
        publisher = Publisher(port)
        for number in range(kills):
            time.sleep(dice.uniform(*PACES[number // 5 % len(PACES)]))
            service.send_signal(signal.SIGKILL)
            service.wait()
            service = start()
        publisher.finish()
        store = folder / "pond.db"
        wait_for(lambda: publisher.acknowledged <= set(stored(store)), "the last readings in the store")
        time.sleep(3.0)  # letters
        service.send_signal(signal.SIGTERM)
        status = service.wait(10)
        if status != 0:
            print(f"the service ended with status {status}", file=sys.stderr)
            print((folder / "service.log").read_text()[-3000:], file=sys.stderr)
        return _count(kills, store, config, publisher, time.monotonic() - begun)


def _count(kills: int, store: Path, config: Path, publisher: Publisher, seconds: float) -> Result:
    found = stored(store)
    with Reader.open(store) as reader:
        raised = list(reader.transitions(0, 1 << 60, limit=100_000))
        last = reader.span()["ph"][1]  # a replay of the readings ends there; the watch went on a little longer
    live = [(t.id, t.alarm, t.change, t.at, t.since) for t in raised if t.at <= last]
    again = replayed(store, config)
    differences = [f"only live: {row}" for row in live if row not in again]
    differences += [f"only in replay: {row}" for row in again if row not in live]
    differences += [f"twice: {row}" for row, times in Counter(live).items() if times > 1]
    got = Counter(letter["key"] for letter in Hook.taken if not letter["repeat"])
    arrived = {letter["key"] for letter in Hook.taken}
    with Reader.open(store) as reader:
        keys = {each.key for each in reader.letters("waiting", "trying", "delivered", "dead", limit=100_000)}
    missing = keys - arrived  # what a newer letter has taken the place of need not arrive
    return Result(
        kills, len(publisher.acknowledged), len(publisher.acknowledged - set(found)),
        sum(times - 1 for times in found.values()),
        len(set(found) - publisher.acknowledged - set(publisher.sent.values())),
        sum(t.change == "raised" for t in raised), differences,
        len(keys), len(missing), sum(times - 1 for times in got.values()), seconds,
    )  # fmt: skip


def replayed(store: Path, config: Path) -> list[tuple[int, str, str, int, int]]:
    """The alarms that a replay of the stored readings gives."""
    command = [sys.executable, "-m", "dawnline.cli", "--config", str(config)]
    table = store.with_suffix(".csv")
    subprocess.run([*command, "readings", "--csv", str(table)], check=True, stdout=subprocess.DEVNULL)
    out = subprocess.run([*command, "replay", "--json", str(table)], check=True, capture_output=True, text=True).stdout
    rows = [json.loads(line) for line in out.splitlines()]
    return [
        (row["id"], row["alarm"], row["change"], _ms(row["time"]), _ms(row["since"]))
        for row in rows
        if row["event"] == "alarm"
    ]


def _ms(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def main() -> int:
    """Run it from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    result = run(args.kills, args.seed)
    print(f"{result.kills} kills in {result.seconds:.0f} s, {result.published} messages acknowledged by the broker")
    print(f"readings lost {result.lost}, doubled {result.doubled}, not published {result.strange}")
    print(f"alarms raised {result.alarms}, lost, doubled or different {len(result.alarm_differences)}")
    print(
        f"notices {result.notices}, missing {result.notices_missing}, "
        f"doubled without a mark {result.notices_doubled_unmarked}"
    )
    for difference in result.alarm_differences[:20]:
        print("  ", difference)
    return 0 if result.well else 1


if __name__ == "__main__":
    sys.exit(main())
