"""The copy at real servers: one that forgets its last seconds when it is killed, one that takes a batch in part.

victoria-metrics takes the v2 protocol as it is; InfluxDB 1.6 behind a small proxy gives a real partial write's 400.
"""

from __future__ import annotations

import json
import signal
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.parse import parse_qs, quote, urlsplit

import pytest

from dawnline.delivery.forward import forwarder as module
from dawnline.delivery.forward import place as places
from dawnline.delivery.forward.forwarder import Forwarder
from dawnline.delivery.forward.influx import Influx
from dawnline.delivery.forward.place import Progress, progress_file
from dawnline.delivery.forward.settings import InfluxSettings
from dawnline.reading import Flag, Reading, Reason
from dawnline.service.copying import StoreSource
from dawnline.store.batch import Batch
from dawnline.store.store import Store

from ...machine import free_port, program
from ...web import Handler, serving

Eventually = Callable[..., None]
NOW = int(time.time()) * 1000 - 3_600_000


class Metrics:
    """A victoria-metrics of our own."""

    def __init__(self, program: str, folder: Path, port: int, eventually: Eventually) -> None:
        self._command = [program, f"-httpListenAddr=127.0.0.1:{port}", f"-storageDataPath={folder}"]
        self._command += ["-retentionPeriod=100y", "-dedup.minScrapeInterval=1ms", "-search.latencyOffset=0s"]
        self.url, self._eventually = f"http://127.0.0.1:{port}", eventually
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        self._process = subprocess.Popen(
            [*self._command, "-search.disableCache"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        self._eventually(self._listens, "victoria-metrics listening")

    def stop(self, sig: int = signal.SIGTERM) -> None:
        if self._process is not None:
            self._process.send_signal(sig)
            self._process.wait(20)
            self._process = None

    def _listens(self) -> bool:
        try:
            return bool(urllib.request.urlopen(f"{self.url}/health", timeout=1).read())
        except OSError:
            return False

    def held(self) -> dict[tuple[str, int], float]:
        """Every value it holds, by probe and time."""
        urllib.request.urlopen(f"{self.url}/internal/force_flush").read()
        found = urllib.request.urlopen(f"{self.url}/api/v1/export?match[]={quote('reading_value')}").read()
        held = {}
        for line in found.decode().splitlines():
            series = json.loads(line)
            for at, value in zip(series["timestamps"], series["values"], strict=True):
                held[series["metric"]["probe"], at] = value
        return held


@pytest.fixture
def metrics(tmp_path: Path, eventually: Eventually) -> Iterator[Metrics]:
    server = Metrics(program("victoria-metrics"), tmp_path / "metrics", free_port(), eventually)
    server.start()
    yield server
    server.stop(signal.SIGKILL)


@pytest.fixture
def pond(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "pond.db", [("ph", "ph"), ("water, east", "temperature")]) as store:
        yield store


@pytest.fixture
def copy(pond: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], Forwarder]]:
    monkeypatch.setattr(places, "LOOK_BACK_S", 3.0)  # the server is killed at once: it forgets no more than that
    monkeypatch.setattr(module, "LOOK_S", 0.05)
    monkeypatch.setattr(module, "backoff", lambda failures, asked=None: 0.1)
    started: list[Forwarder] = []

    def begin(url: str) -> Forwarder:
        settings = InfluxSettings(url=url, bucket="ponds", org="club")
        forwarder = Forwarder(
            lambda: StoreSource(pond.path),
            lambda: Influx(settings, "Heron Lane"),
            Progress.load(progress_file(pond.path)),
        )
        started.append(forwarder)
        forwarder.start()
        return forwarder

    yield begin
    for each in started:
        each.stop(15)


def fill(pond: Store, first: int, number: int) -> None:
    rows = []
    for step in range(first, first + number):
        at = NOW + step * 1000
        rows.append(Reading("ph", at, 7.0 + (step % 97) / 1000, at, Flag.GOOD, Reason.NONE))
        rows.append(Reading("water, east", at + 1, 18.0 + step / 4096, at + 1, Flag.SUSPECT, Reason.NONE))
    pond.commit(Batch(readings=rows))


def stored(pond: Store) -> dict[tuple[str, int], float]:
    source = StoreSource(pond.path)
    rows = source.arrived(places.START, 1_000_000)
    return {(row.place.probe, row.place.at): row.value for row in rows}


@pytest.mark.slow
def test_all_is_there_though_the_server_was_stopped_and_killed(
    metrics: Metrics, pond: Store, copy: Callable[[str], Forwarder], eventually: Eventually
) -> None:
    fill(pond, 0, 2000)
    forwarder = copy(metrics.url)
    eventually(lambda: forwarder.as_json()["sent"] >= 2000, "half of it sent")
    metrics.stop()
    fill(pond, 2000, 500)
    eventually(lambda: forwarder.as_json()["trouble"], "the outage seen")
    metrics.start()
    eventually(lambda: forwarder.as_json()["up_to"] == NOW + 2499 * 1000 + 1, "caught up")
    assert metrics.held() == stored(pond)

    fill(pond, 2500, 100)
    eventually(lambda: forwarder.as_json()["up_to"] == NOW + 2599 * 1000 + 1, "the next ones")
    metrics.stop(signal.SIGKILL)  # confirmed, and forgotten
    metrics.start()
    lost = len(stored(pond)) - len(metrics.held())
    fill(pond, 2600, 1)  # nothing was under way: only the new connection tells
    eventually(lambda: metrics.held() == stored(pond), "what was forgotten sent again")
    assert lost > 0


@pytest.mark.slow
def test_a_copy_that_ends_goes_on_where_it_was(
    metrics: Metrics, pond: Store, copy: Callable[[str], Forwarder], eventually: Eventually
) -> None:
    fill(pond, 0, 50)
    first = copy(metrics.url)
    eventually(lambda: first.as_json()["sent"] == 100)
    assert first.stop(10)
    fill(pond, 50, 50)
    copy(metrics.url)
    eventually(lambda: metrics.held() == stored(pond))


# ------------------------------------------------------------ a server that takes a batch in part


class Proxy(Handler):
    """The v2 write path in front of a server of version 1."""

    behind = ""
    protocol_version = "HTTP/1.1"

    def asked(self) -> None:
        asked = parse_qs(urlsplit(self.path).query)
        query = f"db={asked['bucket'][0]}&precision={asked['precision'][0]}"
        request = urllib.request.Request(f"{self.behind}/write?{query}", self.body())
        for name in ("Content-Encoding", "Content-Type"):
            if name in self.headers:
                request.add_header(name, self.headers[name])
        try:
            with urllib.request.urlopen(request) as answer:
                status, said = answer.status, answer.read()
        except HTTPError as error:
            status, said = error.code, error.read()
        self.answer(status, said, Content_Type="application/json")


@pytest.fixture
def influx(tmp_path: Path, eventually: Eventually) -> Iterator[tuple[str, Callable[[str], Any]]]:
    """Address of the proxy, and `ask(query)` of the server behind it."""
    port, folder = free_port(), tmp_path / "influx"
    config = tmp_path / "influx.conf"
    config.write_text(
        f'reporting-disabled = true\nbind-address = "127.0.0.1:{free_port()}"\n[meta]\n  dir = "{folder}/meta"\n'
        f'[data]\n  dir = "{folder}/data"\n  wal-dir = "{folder}/wal"\n[http]\n  bind-address = "127.0.0.1:{port}"\n'
    )
    process = subprocess.Popen(
        [program("influxd"), "-config", str(config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    behind = f"http://127.0.0.1:{port}"

    def ask(query: str) -> Any:
        request = urllib.request.Request(f"{behind}/query?db=ponds&epoch=ms&q={quote(query)}", b"")
        return json.loads(urllib.request.urlopen(request).read())

    def listens() -> bool:
        try:
            ask("SHOW DATABASES")
        except OSError:
            return False
        return True

    eventually(listens, "influxd listening")
    ask('CREATE DATABASE "ponds" WITH DURATION 4d')
    with serving(type("Door", (Proxy,), {"behind": behind})) as url:
        yield url, ask
    process.kill()
    process.wait()


@pytest.mark.slow
def test_what_the_server_will_never_take_is_set_aside_and_said(
    influx: tuple[str, Callable[[str], Any]],
    pond: Store,
    copy: Callable[[str], Forwarder],
    eventually: Eventually,
) -> None:
    url, ask = influx
    fill(pond, 0, 40)
    old = NOW - 30 * 86_400_000  # beyond what this server keeps
    arrived = NOW + 40_000
    pond.commit(Batch(readings=[Reading("ph", old, 6.9, arrived, Flag.NOT_EVALUATED, Reason.NONE)]))
    fill(pond, 41, 40)
    forwarder = copy(url)
    eventually(lambda: forwarder.as_json()["up_to"] == NOW + 80_001, "all but one there")
    assert forwarder.as_json()["refused"] == 1
    assert "partial write" in forwarder.as_json()["last_refused"]["why"]
    (series,) = ask("SELECT value FROM reading")["results"][0]["series"]
    expected = {at: value for (_, at), value in stored(pond).items() if at != old}
    assert dict(series["values"]) == expected
