"""config/mosquitto.conf does what it says: what waits for a client that is away outlives a killed broker."""

from __future__ import annotations

import os
import re
import socket
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessageInfo
from paho.mqtt.enums import CallbackAPIVersion

from ..machine import free_port, program, until

CONF = Path(__file__).parents[2] / "config" / "mosquitto.conf"
WAITING = 1200  # more than the 1000 of the broker's default
PATIENCE_S = 20.0


@pytest.fixture
def mosquitto() -> str:
    return program("mosquitto")


def answers(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


@contextmanager
def broker(mosquitto: str, conf: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen([mosquitto, "-c", str(conf)], stderr=subprocess.DEVNULL)
    try:
        until(lambda: answers(port), "a broker that takes the configuration")
        yield process
    finally:
        process.kill()
        process.wait()


@contextmanager
def client(port: int, name: str, received: list[bytes]) -> Iterator[Client]:
    made = Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=False)
    made.on_message = lambda _client, _userdata, message: received.append(message.payload)
    made.connect("127.0.0.1", port)
    made.loop_start()
    try:
        until(made.is_connected)
        yield made
    finally:
        made.disconnect()
        made.loop_stop()


def publish(port: int, count: int) -> None:
    sent: list[MQTTMessageInfo] = []
    with client(port, "sender", []) as sender:
        sent = [sender.publish("pond/water/ph", str(number), qos=1) for number in range(count)]
        until(lambda: all(each.is_published() for each in sent))


def test_what_waits_outlives_a_killed_broker(mosquitto: str, tmp_path: Path) -> None:
    port, conf = free_port(), tmp_path / "mosquitto.conf"
    text = CONF.read_text(encoding="utf-8")
    text, listeners = re.subn(r"^listener 1883 localhost$", f"listener {port} 127.0.0.1", text, flags=re.MULTILINE)
    text, folders = re.subn(r"^(persistence_location) .*$", rf"\1 {tmp_path}/", text, flags=re.MULTILINE)
    assert (listeners, folders) == (1, 1)
    conf.write_text(text + ("user root\n" if os.geteuid() == 0 else ""), encoding="utf-8")

    received: list[bytes] = []
    with broker(mosquitto, conf, port) as process:
        with client(port, "dawnline", received) as away:
            granted: list[int] = []
            away.on_subscribe = lambda *_: granted.append(1)
            away.subscribe("pond/#", qos=1)
            until(lambda: bool(granted))
        publish(port, WAITING)
        process.kill()
    with broker(mosquitto, conf, port), client(port, "dawnline", received):
        # The last one may be acknowledged and not yet written: the configuration says so.
        until(lambda: len(received) >= WAITING - 1)
    assert received[: WAITING - 1] == [str(number).encode() for number in range(WAITING - 1)]
