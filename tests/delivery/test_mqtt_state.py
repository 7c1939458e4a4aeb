from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.broker import MqttSettings
from dawnline.delivery.mqtt_state import MqttState
from dawnline.quantity import QUANTITIES

BASE = "homie/5/heron-lane"
PROBES = {"ph": QUANTITIES["ph"]}


class Listener:
    """Subscribes to all under homie/: `now` is the last value of each topic, `log` all that came."""

    def __init__(self, port: int) -> None:
        self.now: dict[str, str] = {}
        self.log: list[tuple[str, str, bool]] = []
        self.subscribed = threading.Event()
        client: Any = paho.Client
        self.client = client(CallbackAPIVersion.VERSION2)
        self.client.on_connect = lambda client, *_: client.subscribe("homie/#", qos=1)
        self.client.on_subscribe = lambda *_: self.subscribed.set()
        self.client.on_message = self._keep
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert self.subscribed.wait(10)

    def _keep(self, _client: Any, _data: Any, message: Any) -> None:
        topic, text = message.topic.removeprefix(BASE + "/"), message.payload.decode()
        self.log.append((topic, text, message.retain))
        self.now[topic] = text

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def listen() -> Iterator[Callable[[Any], Listener]]:
    made: list[Listener] = []

    def start(broker: Any) -> Listener:
        made.append(Listener(broker.port))
        return made[-1]

    yield start
    for each in made:
        each.close()


@pytest.fixture
def serve() -> Iterator[Callable[..., MqttState]]:
    """serve(broker) -> a started state, stopped after the test."""
    made: list[MqttState] = []

    def start(broker: Any, **settings: Any) -> MqttState:
        settings = {"host": broker.host, "port": broker.port, **settings}
        made.append(MqttState(MqttSettings.model_validate(settings), "Heron Lane", PROBES))
        made[-1].start()
        return made[-1]

    yield start
    for each in made:
        each.stop()


Start = Callable[..., Any]


def test_the_device_comes_up_in_order(mosquitto: Start, serve: Start, listen: Start, eventually: Start) -> None:
    broker = mosquitto()
    listener = listen(broker)
    serve(broker).publish({"ph/value": "7.12", "ph/flag": "good", "alarms/priority": "none", "alarms/text": ""})
    eventually(lambda: listener.now.get("$state") == "ready" and listener.now.get("alarms/text"))
    topics = [topic for topic, _, _ in listener.log]
    assert topics[:2] == ["$state", "$description"]
    assert listener.log[0][1] == "init"
    assert (listener.now["ph/value"], listener.now["ph/flag"]) == ("7.12", "good")
    assert listener.now["alarms/text"] == "\0"
    assert json.loads(listener.now["$description"])["nodes"]["ph"]["properties"]["value"]["unit"] == "pH"


def test_a_late_listener_finds_it_all(mosquitto: Start, serve: Start, listen: Start, eventually: Start) -> None:
    broker = mosquitto()
    state = serve(broker)
    state.publish({"ph/value": "7.12"})
    eventually(lambda: state.connected)
    first = listen(broker)
    eventually(lambda: first.now.get("$state") == "ready")
    late = listen(broker)
    eventually(lambda: {"$state", "$description", "ph/value"} <= set(late.now))
    assert all(retained for _, _, retained in late.log)


def test_only_what_changed_is_sent(mosquitto: Start, serve: Start, listen: Start, eventually: Start) -> None:
    broker = mosquitto()
    listener, state = listen(broker), serve(broker)
    eventually(lambda: listener.now.get("$state") == "ready")
    for value in ("7.12", "7.12", "7.13", "7.13", "7.12"):
        state.publish({"ph/value": value, "pond/swing": "0.8"})
    state.publish({"alarms/count": "0"})
    eventually(lambda: "alarms/count" in listener.now)
    assert [text for topic, text, _ in listener.log if topic == "ph/value"] == ["7.12", "7.13", "7.12"]
    assert [text for topic, text, _ in listener.log if topic == "pond/swing"] == ["0.8"]


def test_what_the_description_does_not_allow_is_left_out(
    mosquitto: Start, serve: Start, listen: Start, eventually: Start
) -> None:
    broker = mosquitto()
    listener, state = listen(broker), serve(broker)
    state.publish({"ph/value": "nan", "nobody/value": "1", "a/+/#": "1", "ph/flag": "splendid", "alarms/count": "1"})
    eventually(lambda: listener.now.get("alarms/count") == "1" and listener.now.get("$state") == "ready")
    assert set(listener.now) == {"$state", "$description", "alarms/count"}


def test_a_number_can_be_taken_away(mosquitto: Start, serve: Start, listen: Start, eventually: Start) -> None:
    broker = mosquitto()
    listener, state = listen(broker), serve(broker)
    state.publish({"pond/tonight-low": "6.9"})
    eventually(lambda: listener.now.get("pond/tonight-low") == "6.9")
    state.publish({"pond/tonight-low": ""})
    eventually(lambda: listener.now["pond/tonight-low"] == "")
    late = listen(broker)
    eventually(lambda: late.now.get("$state") == "ready")
    assert "pond/tonight-low" not in late.now


def test_stop_says_disconnected(mosquitto: Start, serve: Start, listen: Start, eventually: Start) -> None:
    broker = mosquitto()
    listener, state = listen(broker), serve(broker)
    eventually(lambda: listener.now.get("$state") == "ready")
    state.stop()
    eventually(lambda: listener.now["$state"] == "disconnected")
    assert "lost" not in [text for _, text, _ in listener.log]


def test_a_killed_process_is_lost(mosquitto: Start, listen: Start, eventually: Start) -> None:
    broker = mosquitto()
    listener = listen(broker)
    code = (
        "import sys; from dawnline.broker import MqttSettings;"
        "from dawnline.delivery.mqtt_state import MqttState;"
        f"s = MqttState(MqttSettings(host='127.0.0.1', port={broker.port}), 'Heron Lane', {{}});"
        "s.start(); s.publish({'pond/swing': '0.8'}); sys.stdin.read()"
    )
    process = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE)
    try:
        eventually(lambda: listener.now.get("$state") == "ready")
    finally:
        process.kill()
        process.wait()
        assert process.stdin is not None
        process.stdin.close()
    eventually(lambda: listener.now["$state"] == "lost")
    assert listener.now["pond/swing"] == "0.8"


def test_after_a_broken_broker_everything_is_sent_again(
    mosquitto: Start, serve: Start, listen: Start, eventually: Start
) -> None:
    broker = mosquitto()
    state = serve(broker)
    state.publish({"ph/value": "7.12", "pond/swing": "0.8"})
    eventually(lambda: state.connected)
    broker.stop(signal.SIGKILL)
    eventually(lambda: not state.connected)
    state.publish({"ph/value": "6.40"})  # nobody hears it now
    broker.restart()  # without persistence: it has forgotten all it had
    eventually(lambda: state.connected)
    listener = listen(broker)
    eventually(lambda: listener.now.get("$state") == "ready")
    assert (listener.now["ph/value"], listener.now["pond/swing"]) == ("6.40", "0.8")
    assert "$description" in listener.now


def test_a_frozen_broker_gets_the_newest_values_in_the_end(
    mosquitto: Start, serve: Start, listen: Start, eventually: Start
) -> None:
    broker = mosquitto()
    listener, state = listen(broker), serve(broker)
    eventually(lambda: listener.now.get("$state") == "ready")
    broker.process.send_signal(signal.SIGSTOP)
    try:
        for n in range(500):
            state.publish({"ph/value": f"{7 + n / 1000:.3f}"})
    finally:
        broker.process.send_signal(signal.SIGCONT)
    eventually(lambda: listener.now.get("ph/value") == "7.499")
    assert listener.log[-1][:2] == ("ph/value", "7.499")


def test_values_in_flight_when_the_broker_died_do_not_come_back(
    mosquitto: Start, serve: Start, listen: Start, eventually: Start
) -> None:
    broker = mosquitto()
    state = serve(broker)
    eventually(lambda: state.connected)
    broker.process.send_signal(signal.SIGSTOP)
    for n in range(5):
        state.publish({"ph/value": f"7.{n}"})
    broker.stop(signal.SIGKILL)
    eventually(lambda: not state.connected)
    state.publish({"ph/value": "6.4"})
    broker.restart()
    eventually(lambda: state.connected)
    state.publish({"alarms/count": "1"})  # behind everything that was still on its way
    listener = listen(broker)
    eventually(lambda: listener.now.get("alarms/count") == "1")
    assert listener.now["ph/value"] == "6.4"


def test_a_broker_that_is_away_blocks_nobody(serve: Start) -> None:
    class Away:
        host, port = "127.0.0.1", 9  # "discard", refused or silent

    state = serve(Away)
    state.publish({"ph/value": "7.12"})
    state.stop()
    assert not state.connected


def test_with_login_and_tls(
    mosquitto: Start, serve: Start, listen: Start, eventually: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DAWNLINE_TEST_MQTT", "right")
    broker = mosquitto(password=("pond", "right"), tls=True)
    state = serve(broker, username="pond", password="env:DAWNLINE_TEST_MQTT", tls=True, ca_file=str(broker.ca_file))
    eventually(lambda: state.connected)


def test_a_wrong_password_never_connects(
    mosquitto: Start, serve: Start, eventually: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DAWNLINE_TEST_MQTT", "wrong")
    broker = mosquitto(password=("pond", "right"))
    state = serve(broker, username="pond", password="env:DAWNLINE_TEST_MQTT")
    eventually(lambda: "not authorised" in broker.log)
    assert not state.connected
