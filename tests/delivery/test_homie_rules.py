"""The pond on MQTT keeps the published rules of the Homie convention, from coming up to going down; and takes an
acknowledgement back.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.client import MQTTv5
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.subscribeoptions import SubscribeOptions

from dawnline.broker import MqttSettings
from dawnline.delivery.homie import description, properties
from dawnline.delivery.mqtt_line import MqttLine
from dawnline.delivery.mqtt_state import MqttState
from dawnline.quantity import QUANTITIES

from .homie_rules import Sent, broken

PROBES = {"ph": QUANTITIES["ph"], "deep_end": QUANTITIES["temperature"], "glass": QUANTITIES["electrode_mv"]}
SET = "homie/5/heron-lane/alarms/acknowledge/set"
ANSWER = "homie/5/heron-lane/alarms/answer"


class Ear:
    """Hears all under homie/ as it was sent: with the sender's retain flag (an option of MQTT 5)."""

    def __init__(self, port: int) -> None:
        self.sent: list[Sent] = []
        ready = threading.Event()
        client: Any = paho.Client
        self.client = client(CallbackAPIVersion.VERSION2, protocol=MQTTv5)
        options = SubscribeOptions(qos=1, retainAsPublished=True)
        self.client.on_connect = lambda c, *_: c.subscribe("homie/#", options=options)
        self.client.on_subscribe = lambda *_: ready.set()
        self.client.on_message = lambda _c, _d, m: self.sent.append(Sent(m.topic, m.payload, bool(m.retain)))
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert ready.wait(10)

    def last(self, topic: str) -> str | None:
        found = [each.payload.decode() for each in self.sent if each.topic == topic]
        return found[-1] if found else None

    def publish(self, payload: bytes, *, retain: bool = False) -> None:
        self.client.publish(SET, payload, qos=1, retain=retain).wait_for_publish(5)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


Start = Callable[..., Any]


@pytest.fixture
def ear() -> Iterator[Callable[[Any], Ear]]:
    made: list[Ear] = []

    def start(broker: Any) -> Ear:
        made.append(Ear(broker.port))
        return made[-1]

    yield start
    for each in made:
        each.close()


@pytest.fixture
def serve() -> Iterator[Callable[..., MqttState]]:
    """serve(broker, acknowledge) -> a started state, stopped after the test."""
    made: list[MqttState] = []

    def start(broker: Any, acknowledge: Callable[[int], None] | None = None) -> MqttState:
        settings = MqttSettings(host=broker.host, port=broker.port)
        made.append(MqttState(settings, "Heron Lane", PROBES, acknowledge))
        made[-1].start()
        return made[-1]

    yield start
    for each in made:
        each.stop()


def test_a_whole_life_keeps_the_rules(mosquitto: Start, serve: Start, ear: Start, eventually: Start) -> None:
    broker = mosquitto()
    heard, state = ear(broker), serve(broker)
    values = {"ph/value": "7.120", "ph/flag": "not evaluated", "glass/ph": "7.01", "deep-end/value": "-0.500",
              "alarms/text": "", "alarms/count": "0", "alarms/priority": "none", "pond/tonight-low": "6.9",
              "pond/buffer-trend": "falling", "pond/reaches-low-on": "", "alarms/unacknowledged": ""}  # fmt: skip
    state.publish(values, {})
    eventually(lambda: heard.last("homie/5/heron-lane/$state") == "ready")
    state.publish({"alarms/count": "1", "alarms/priority": "high", "pond/tonight-low": "", "pond/buffer-trend": ""},
                  {"ph-low-ph": "pH is low: 6.4", "no-data-deep-end": "silent"})  # fmt: skip
    state.tell("alarms/acknowledge", "3")
    state.tell("alarms/answer", "alarm 3: acknowledged")
    state.publish({}, {})
    state.stop()
    eventually(lambda: heard.last("homie/5/heron-lane/$state") == "disconnected")
    assert len(heard.sent) > 20
    assert broken(heard.sent, "heron-lane") == []


def test_ponds_that_share_a_connection_have_one_root(mosquitto: Start, ear: Start, eventually: Start) -> None:
    broker = mosquitto()
    heard, settings = ear(broker), MqttSettings(host=broker.host, port=broker.port, client_id="Club")
    line = MqttLine(settings, "club-state", "", "Club")
    ponds = [MqttState(settings, name, PROBES, line=line) for name in ("Alder", "Birch")]
    for name in ("alder", "birch"):
        line.expect(name)
    ponds[0].start()
    line.start()
    eventually(lambda: heard.last("homie/5/alder/$state") == "ready")
    ponds[1].start()  # later than the connection
    ponds[1].publish({"ph/value": "7.120"}, {"ph-low-ph": "pH is low: 6.4"})
    eventually(lambda: heard.last("homie/5/birch/$alert/ph-low-ph") == "pH is low: 6.4")
    assert json.loads(heard.last("homie/5/club/$description"))["children"] == ["alder", "birch"]
    below = json.loads(heard.last("homie/5/birch/$description"))
    assert (below["root"], below["parent"]) == ("club", "club")
    ponds[0].stop()
    eventually(lambda: heard.last("homie/5/alder/$state") == "disconnected")
    assert heard.last("homie/5/club/$state") == heard.last("homie/5/birch/$state") == "ready"
    ponds[1].stop()
    line.stop()
    eventually(lambda: heard.last("homie/5/club/$state") == "disconnected")
    for device in ("club", "alder", "birch"):
        assert broken([sent for sent in heard.sent if sent.topic.startswith(f"homie/5/{device}/")], device) == []


def test_each_property_says_what_it_is() -> None:
    whole = json.loads(description("Heron Lane", PROBES))
    alarms = whole["nodes"]["alarms"]["properties"]
    assert (alarms["acknowledge"]["settable"], alarms["acknowledge"]["retained"]) == (True, False)
    settable = [path for path, each in properties(PROBES).items() if each.settable]
    assert settable == ["alarms/acknowledge"]


@pytest.mark.parametrize(
    ("sent", "fault"),
    [
        (Sent("homie/5/x/$state", b"alive", True), "$state is 'alive'"),
        (Sent("homie/5/x/$state", b"ready", True), "ready before $description"),
        (Sent("homie/5/x/$state", b"init", False), "homie/5/x/$state: not retained"),
        (Sent("homie/5/x/ph/value", b"7", True), "ph/value: not in the description"),
        (Sent("homie/5/x/$alert/No_ID", b"7", True), "alert ID in '$alert/No_ID'"),
        (Sent("homie/5/y/$state", b"init", True), "homie/5/y/$state: outside of the device"),
    ],
)
def test_the_rules_find_what_breaks_them(sent: Sent, fault: str) -> None:
    assert broken([sent], "x") == [fault]


def test_an_alert_stands_as_long_as_the_alarm_and_old_ones_go(
    mosquitto: Start, serve: Start, ear: Start, eventually: Start
) -> None:
    broker = mosquitto()
    state = serve(broker)
    state.publish({}, {"ph-low-ph": "pH is low", "no-data-ph": "silent"})
    eventually(lambda: state.connected)
    state.publish({}, {"ph-low-ph": "pH is low"})
    late = ear(broker)
    eventually(lambda: late.last("homie/5/heron-lane/$alert/ph-low-ph") == "pH is low")
    assert not late.last("homie/5/heron-lane/$alert/no-data-ph")
    state.stop()
    again = serve(broker)  # the next run, in which that alarm is over
    again.publish({}, {})
    eventually(lambda: late.last("homie/5/heron-lane/$alert/ph-low-ph") == "")


def test_an_acknowledgement_comes_back(mosquitto: Start, serve: Start, ear: Start, eventually: Start) -> None:
    broker, got = mosquitto(), list[int]()
    heard, state = ear(broker), serve(broker, got.append)
    eventually(lambda: state.connected)
    heard.publish(b"12")
    eventually(lambda: got == [12])


@pytest.mark.parametrize(
    "payload", [b"", b"0", b"-1", b"1.0", b" 3", b"3\n", b"all", b"9" * 10, b"\xff\xfe", b'{"id": 3}', b"1" * 5000]
)
def test_anything_else_is_refused_with_a_word(
    payload: bytes, mosquitto: Start, serve: Start, ear: Start, eventually: Start
) -> None:
    broker, got = mosquitto(), list[int]()
    heard, state = ear(broker), serve(broker, got.append)
    eventually(lambda: state.connected and heard.last("homie/5/heron-lane/$state") == "ready")
    heard.publish(payload)
    eventually(lambda: heard.last(ANSWER) == "refused: expected the number of an alarm, such as 3")
    assert got == []


def test_a_retained_command_is_not_obeyed_again_and_again(
    mosquitto: Start, serve: Start, ear: Start, eventually: Start
) -> None:
    broker, got = mosquitto(), list[int]()
    heard = ear(broker)
    heard.publish(b"3", retain=True)
    state = serve(broker, got.append)
    eventually(lambda: (heard.last(ANSWER) or "").startswith("refused: a retained message"))
    assert (got, state.connected) == ([], True)
