"""What the outside hears of a running service: systemd, the heartbeat's address, the broker; and the way back."""

from __future__ import annotations

import signal
import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from ..web import Handler, serving

Eventually = Callable[..., None]


class Systemd:
    """A stand-in for systemd's end of the notify socket: every word that came."""

    def __init__(self, folder: Path) -> None:
        self.words: list[str] = []
        self.address = str(folder / "notify")
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(self.address)
        self._socket.settimeout(0.1)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                self.words.append(self._socket.recv(256).decode())
            except TimeoutError:
                continue

    def close(self) -> None:
        self._stopping.set()
        self._thread.join()
        self._socket.close()


@pytest.fixture
def systemd(tmp_path: Path) -> Iterator[Systemd]:
    stand_in = Systemd(tmp_path)
    yield stand_in
    stand_in.close()


@pytest.fixture
def beats() -> Iterator[tuple[str, list[str]]]:
    """An address for heartbeats, and the paths that were asked for there."""
    got: list[str] = []

    class Address(Handler):
        def asked(self) -> None:
            got.append(self.path)
            self.answer(200)

    with serving(Address) as url:
        yield url, got


def test_systemd_and_the_heartbeat_hear_while_it_lives(
    make_pond: Callable[..., Any], eventually: Eventually, systemd: Systemd, beats: tuple[str, list[str]]
) -> None:
    url, got = beats
    pond = make_pond(f'[heartbeat]\nurl = "{url}/secret-token"\nevery = "10s"\n')
    service = pond.start(NOTIFY_SOCKET=systemd.address, DAWNLINE_CLOCK_RATE="100")
    eventually(lambda: systemd.words.count("WATCHDOG=1") >= 2, "the watchdog fed")
    assert systemd.words[0] == "READY=1"
    eventually(lambda: len(got) >= 2, "two heartbeats")
    assert set(got) == {"/secret-token"}
    eventually(lambda: (pond.status().get("heartbeat") or {}).get("sent", 0) >= 2, "the count in status")
    assert "secret-token" not in pond.log + pond.command("status").stdout
    service.send_signal(signal.SIGSTOP)  # frozen: nobody vouches for it any more
    try:
        threading.Event().wait(0.5)  # what was under way has arrived
        before = (len(systemd.words), len(got))
        threading.Event().wait(2.5)
        assert (len(systemd.words), len(got)) == before
    finally:
        service.send_signal(signal.SIGCONT)
    eventually(lambda: len(systemd.words) > before[0], "fed again")
    assert pond.stop() == 0
    eventually(lambda: systemd.words[-1] == "STOPPING=1", "the goodbye")


def test_an_alarm_is_acknowledged_by_mqtt(
    make_pond: Callable[..., Any], eventually: Eventually, mosquitto: Callable[..., Any]
) -> None:
    broker, answers, pond = mosquitto(), list[str](), None
    client: Any = paho.Client(CallbackAPIVersion.VERSION2)  # type: ignore[call-arg]
    client.on_connect = lambda c, *_: c.subscribe("homie/5/heron-lane/alarms/#")
    client.on_message = lambda _c, _d, m: answers.append(f"{m.topic.rpartition('/')[2]} {m.payload.decode()}")
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    try:
        pond = make_pond(f'[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\n')
        pond.start(DAWNLINE_CLOCK_RATE="3600")  # nothing is plugged in: both probes are soon an alarm
        eventually(lambda: any(each.startswith("unacknowledged 1") for each in answers), "an alarm to acknowledge")
        client.publish("homie/5/heron-lane/alarms/acknowledge/set", "1")
        eventually(lambda: "answer alarm 1: acknowledged" in answers, "the answer")
        assert "acknowledge 1" in answers
        client.publish("homie/5/heron-lane/alarms/acknowledge/set", "77")
        eventually(lambda: any("refused: alarm 77: there is no open alarm 77" in each for each in answers), "a refusal")
        (row,) = [each for each in pond.status()["alarms"] if each["id"] == 1]
        assert (row["state"], row["by"]) == ("acknowledged", "mqtt")
        assert pond.stop() == 0
    finally:
        client.disconnect()
        client.loop_stop()
