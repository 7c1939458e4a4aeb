"""A connection that ponds share: when a message is acknowledged, and what becomes of it while a pond is away."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.broker import MqttSettings
from dawnline.probes.dialects.routing import Route
from dawnline.probes.intake import Batch, Intake, Receipt
from dawnline.probes.links.mqtt import MqttLink
from dawnline.probes.links.mqtt_connection import MqttConnection
from dawnline.probes.links.mqtt_seats import Seats

SETTINGS = MqttSettings(host="localhost", window=8)


def link(connection: MqttConnection, pond: str, *topics: str, into: Intake | None = None, known: Any = ()) -> MqttLink:
    routes = [(topic, Route("ph" if topic == f"{pond}/ph" else "air")) for topic in topics]
    intake = Intake(lambda: 1) if into is None else into  # an empty one is false
    return MqttLink(SETTINGS, "club", routes, intake, known, connection=connection, pond=pond)


def message(topic: str, payload: bytes, mid: int) -> Any:
    return SimpleNamespace(topic=topic, payload=payload, mid=mid, qos=1, dup=False, retain=False)


@pytest.fixture
def seats() -> Seats:
    return Seats(window=8)


def test_a_message_for_two_ponds_waits_for_both(seats: Seats) -> None:
    connection = MqttConnection(SETTINGS, "club")
    alder, birch = link(connection, "alder", "yard/air"), link(connection, "birch", "yard/air")
    seats.join("alder", alder)
    seats.join("birch", birch)
    key = (1, b"digest")
    assert seats.arrived("yard/air", key, duplicate=False) == [alder, birch]
    assert not seats.committed(alder, key)
    assert seats.out == 1
    assert seats.arrived("yard/air", key, duplicate=True) == []  # alder has it, birch has not stored it yet
    assert seats.committed(birch, key)
    assert seats.out == 0
    assert seats.arrived("yard/air", key, duplicate=True) is None


def test_what_comes_for_a_pond_that_is_away_waits_up_to_a_quarter_of_the_window(seats: Seats) -> None:
    seats.keep("alder", ["alder/ph"])
    found = [seats.arrived("alder/ph", (mid, b"d"), duplicate=False) for mid in range(1, 6)]
    assert found == [[], [], None, None, None]
    assert seats.out == 2
    alder = link(MqttConnection(SETTINGS, "club"), "alder", "alder/ph")
    assert seats.join("alder", alder) == 3
    assert seats.join("alder", alder) == 0
    assert seats.arrived("alder/ph", (1, b"d"), duplicate=True) == [alder]  # sent again after connecting anew


def test_a_pond_that_is_back_says_what_could_not_wait_for_it() -> None:
    connection = MqttConnection(SETTINGS, "club")
    connection.keep("alder", ["alder/ph"])
    for mid in range(1, 6):
        connection.on_message(None, None, message("alder/ph", b"7.1", mid))
    alder = link(connection, "alder", "alder/ph")
    alder.start()
    assert alder.report().dropped == 3


def test_a_broker_that_has_forgotten_us_waits_for_nothing(seats: Seats) -> None:
    alder = link(MqttConnection(SETTINGS, "club"), "alder", "alder/ph")
    seats.join("alder", alder)
    seats.arrived("alder/ph", (1, b"d"), duplicate=False)
    seats.new_session()
    assert seats.out == 0
    assert not seats.committed(alder, (1, b"d"))


def test_a_pond_that_cannot_store_leaves_the_others_three_quarters_of_the_window() -> None:
    connection = MqttConnection(SETTINGS, "club")
    alder = link(connection, "alder", "alder/ph")
    alder.start()
    for mid in range(1, 7):
        connection.on_message(None, None, message("alder/ph", b"7.1", mid))
    held = [Receipt(alder.name, *key) for key in sorted(alder.ledger._pending)]
    assert [receipt.mid for receipt in alder.let_go(held)] == [1, 2, 3, 4]
    assert len(alder.ledger) == 2
    alone = MqttLink(SETTINGS, "heron", [("heron/ph", Route("ph"))], Intake(lambda: 1))
    assert list(alone.let_go(held)) == []  # all of it waits at the broker, that sends nothing more


# The library opens a pair of sockets with each start of its thread and leaves the old one to the garbage collector.
@pytest.mark.filterwarnings("ignore:unclosed <socket:ResourceWarning")
def test_a_pond_that_comes_back_gets_what_it_had_not_stored(
    mosquitto: Any, eventually: Callable[..., None], drain: Callable[[Intake], list[Batch]]
) -> None:
    broker = mosquitto(persistence=True)
    connection = MqttConnection(MqttSettings(host=broker.host, port=broker.port, window=40), "club")
    for pond in ("alder", "birch"):
        connection.keep(pond, [f"{pond}/ph"])
    first, other = Intake(lambda: 1), Intake(lambda: 1)
    alder, birch = link(connection, "alder", "alder/ph", into=first), link(connection, "birch", "birch/ph", into=other)
    alder.start()
    birch.start()
    connection.start()
    eventually(lambda: birch.report().state == "connected")
    eventually(lambda: broker.log.count("Sending SUBACK") == 1)
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.connect(broker.host, broker.port)
    client.loop_start()
    for value in ("7.1", "7.2", "7.3"):
        client.publish("alder/ph", value, qos=1).wait_for_publish(10)
        client.publish("birch/ph", value, qos=1).wait_for_publish(10)
    eventually(lambda: len(first) == len(other) == 3)
    receipts: list[Receipt] = [batch.receipt for batch in drain(first) if batch.receipt is not None]
    alder.acknowledge(receipts[:1])
    alder.stop()  # its watch has ended with two of them in memory alone
    client.publish("alder/ph", "7.4", qos=1).wait_for_publish(10)
    again = Intake(lambda: 1)
    link(connection, "alder", "alder/ph", into=again, known=[receipts[1]]).start()  # one of these was committed
    eventually(lambda: len(again) == 2, "the others, once more")
    assert [sample.value for batch in drain(again) for sample in batch.samples] == [7.3, 7.4]
    assert len(other) == 3  # birch has them, and got none twice
    client.disconnect()
    client.loop_stop()
    connection.stop()
