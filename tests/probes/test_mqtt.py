"""The MQTT link against a real mosquitto: what comes again, what does not, and what is said when it fails."""

from __future__ import annotations

import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.broker import MqttSettings
from dawnline.errors import SettingsError
from dawnline.probes.dialects.routing import Route
from dawnline.probes.intake import Batch, Intake, Receipt
from dawnline.probes.links.mqtt import MqttLink

Eventually = Callable[..., None]
Drain = Callable[[Intake], list[Batch]]
ROUTES = [("pond/ph", Route("ph")), ("pond/deep", Route("deep", "water.ph", "t"))]


def _settings(broker: Any, folder: Path = Path(), **more: Any) -> MqttSettings:
    return MqttSettings.model_validate({"host": broker.host, "port": broker.port, **more}, context={"folder": folder})


@pytest.fixture
def open_link(intake: Intake, eventually: Eventually) -> Iterator[Callable[..., MqttLink]]:
    started: list[MqttLink] = []

    def start(
        broker: Any,
        *,
        state: str = "connected",
        into: Intake = intake,
        routes: Any = ROUTES,
        known: Any = (),
        **settings: Any,
    ) -> MqttLink:
        link = MqttLink(_settings(broker, **settings), "test-pond-probes", routes, into, known)
        started.append(link)
        link.start()
        eventually(lambda: link.report().state == state, f"the link {state}")
        return link

    yield start
    for link in started:
        link.stop()


@pytest.fixture
def publish() -> Callable[..., None]:
    """A sender: publishes at QoS 1 and returns when the broker has taken all."""

    def send(broker: Any, topic: str, *payloads: str | bytes, retain: bool = False, qos: int = 1) -> None:
        client = paho.Client(CallbackAPIVersion.VERSION2)
        client.connect(broker.host, broker.port)
        client.loop_start()
        for sent in [client.publish(topic, payload, qos=qos, retain=retain) for payload in payloads]:
            sent.wait_for_publish(10)
        client.disconnect()
        client.loop_stop()

    return send


def _values(batches: list[Batch]) -> list[float]:
    return [sample.value for batch in batches for sample in batch.samples]


def _receipts(batches: list[Batch]) -> list[Receipt]:
    return [batch.receipt for batch in batches if batch.receipt is not None]


def test_bare_numbers_and_objects_arrive_with_their_times(
    mosquitto: Any, intake: Intake, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker = mosquitto()
    link = open_link(broker)
    publish(broker, "pond/ph", "7.12")
    publish(broker, "pond/deep", '{"water": {"ph": 7.2}, "t": "2026-06-03T04:30:00Z", "battery": 3.1}')
    eventually(lambda: len(intake) == 2)
    first, second = drain(intake)
    assert [tuple(s) for s in first.samples] == [("ph", 1_000_000, 7.12, 1_000_000, True)]
    assert [tuple(s) for s in second.samples] == [("deep", 1_780_461_000_000, 7.2, 1_000_001, True)]
    assert len(first.receipt.digest) == 8
    assert link.report().good == 2
    assert link.report().bad == {}


def test_what_was_acknowledged_does_not_come_again_and_the_rest_does(
    mosquitto: Any, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker, before, after = mosquitto(), Intake(lambda: 1), Intake(lambda: 1)
    link = open_link(broker, into=before)
    publish(broker, "pond/ph", "7.1", "7.2", "7.3", "7.4")
    eventually(lambda: len(before) == 4)
    receipts = _receipts(drain(before))
    link.acknowledge(receipts[:2])
    eventually(lambda: broker.log.count("Received PUBACK") == 2, "the acknowledgements sent")
    link.stop()
    publish(broker, "pond/ph", "7.5")
    # The third was committed too, but the power went before it could be acknowledged.
    open_link(broker, into=after, known=[receipts[2]])
    eventually(lambda: len(after) == 2)
    assert _values(drain(after)) == [7.4, 7.5]
    eventually(lambda: broker.log.count("Received PUBACK") == 3, "the known one acknowledged at once")


def test_a_redelivery_on_the_same_run_makes_no_second_arrival(
    mosquitto: Any, intake: Intake, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker = mosquitto(persistence=True)
    link = open_link(broker)
    publish(broker, "pond/ph", "7.1", "7.2")
    eventually(lambda: len(intake) == 2)
    committed, pending = _receipts(drain(intake))
    broker.stop()
    eventually(lambda: link.report().state == "waiting", "the loss noticed")
    link.acknowledge([committed])  # nobody there to hear it
    broker.restart()
    eventually(lambda: link.report().state == "connected", "connected again")
    publish(broker, "pond/ph", "7.3")
    eventually(lambda: len(intake) == 1)
    batches = drain(intake)
    assert _values(batches) == [7.3]
    link.acknowledge([pending, *_receipts(batches)])
    eventually(lambda: broker.log.count("Received PUBACK") == 3, "all three acknowledged")
    assert link.report().good == 3
    assert link.report().reconnects == 1


def test_a_killed_broker_and_an_abrupt_end_lose_nothing_that_it_had_stored(
    mosquitto: Any, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker = mosquitto(persistence=True, config_lines=["autosave_on_changes true"])
    before, after = Intake(lambda: 1), Intake(lambda: 1)
    link = open_link(broker, into=before)
    publish(broker, "pond/ph", "7.1", "7.2", "7.3")
    eventually(lambda: len(before) == 3)
    link.acknowledge(_receipts(drain(before))[:1])
    eventually(lambda: broker.log.count("Received PUBACK") == 1, "the acknowledgement received")
    time.sleep(0.3)  # the broker writes its store on changes, and says nowhere that it has
    broker.stop(signal.SIGKILL)
    link.stop()
    broker.restart()
    open_link(broker, into=after)
    eventually(lambda: len(after) == 2, "the two that were not acknowledged")
    assert _values(drain(after)) == [7.2, 7.3]


def test_a_broker_that_forgot_us_is_sent_no_old_acknowledgement(
    mosquitto: Any, intake: Intake, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker = mosquitto(persistence=False)
    link = open_link(broker)
    publish(broker, "pond/ph", "7.1")
    eventually(lambda: len(intake) == 1)
    old = _receipts(drain(intake))
    broker.stop(signal.SIGKILL)
    eventually(lambda: link.report().state == "waiting", "the loss noticed")
    broker.restart()
    eventually(lambda: link.report().state == "connected", "connected again")
    publish(broker, "pond/ph", "7.1")  # the same packet id and text again, in a new session
    eventually(lambda: len(intake) == 1)
    new = _receipts(drain(intake))
    assert old == new
    link.acknowledge(old)
    link.stop()
    again = Intake(lambda: 1)
    open_link(broker, into=again)
    eventually(lambda: len(again) == 1, "the one that is not on disk sent again")


def test_bad_payloads_are_counted_and_do_not_block_the_window(
    mosquitto: Any, intake: Intake, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker = mosquitto()
    link = open_link(broker)
    publish(
        broker,
        "pond/ph",
        *["7,12", b"\xff\xfe", "", "nan", "[" * 9000, "true", b"\xef\xbb\xbf7.1", "7.1 pH"] * 5,
    )
    publish(broker, "pond/ph", "7.12")
    eventually(lambda: len(intake) == 1, "the good one, after forty bad ones")
    assert _values(drain(intake)) == [7.12]
    assert link.report().bad == {
        "decimal comma": 5,
        "not UTF-8": 5,
        "empty": 5,
        "not finite": 5,
        "nested too deep": 5,
        "not a number": 10,
        "byte order mark": 5,
    }


def test_the_window_is_what_it_says(
    mosquitto: Any, intake: Intake, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker = mosquitto()
    link = open_link(broker)
    publish(broker, "pond/ph", *[f"7.{n:02}" for n in range(30)])
    eventually(lambda: len(intake) == link.window)
    first = drain(intake)
    link.acknowledge(_receipts(first))
    eventually(lambda: len(intake) == 10, "the rest, once there was room")
    assert _values(first + drain(intake)) == [7 + n / 100 for n in range(30)]


def test_a_retained_message_without_a_time_is_undated(
    mosquitto: Any, intake: Intake, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker = mosquitto()
    publish(broker, "pond/ph", "7.12", retain=True)
    publish(broker, "pond/deep", '{"water": {"ph": 7.2}, "t": 1780461000}', retain=True)
    open_link(broker)
    eventually(lambda: len(intake) == 2)
    publish(broker, "pond/ph", "7.13", retain=True)  # live for those who already listen
    eventually(lambda: len(intake) == 3)
    dated = {s.value: s.dated for b in drain(intake) for s in b.samples}
    assert dated == {7.12: False, 7.2: True, 7.13: True}


def test_a_wrong_password_is_counted_and_a_right_one_taken(
    mosquitto: Any, open_link: Any, eventually: Eventually, monkeypatch: pytest.MonkeyPatch
) -> None:
    broker = mosquitto(password=("pond", "right"))
    monkeypatch.setenv("POND_WRONG", "wrong")
    monkeypatch.setenv("POND_RIGHT", "right")
    link = open_link(broker, state="refused", username="pond", password="env:POND_WRONG")
    assert "Not authorized" in str(link.report().last_error)
    eventually(lambda: link.report().refused_connections >= 2, "tried again")
    assert link.report().state == "refused"
    link.stop()
    open_link(broker, username="pond", password="env:POND_RIGHT")


# The library leaves the socket of a failed handshake to the garbage collector.
@pytest.mark.filterwarnings("ignore:unclosed <ssl:ResourceWarning")
def test_tls_with_an_authority_of_ones_own(
    mosquitto: Any, open_link: Any, publish: Any, eventually: Eventually
) -> None:
    broker, stranger = mosquitto(tls=True), mosquitto(tls=True)
    open_link(broker, tls=True, ca_file="ca.crt", folder=broker.folder).stop()
    link = open_link(broker, state="refused", tls=True, ca_file=str(stranger.ca_file))
    assert "certificate verify failed" in str(link.report().last_error)
    link.stop()
    plain = open_link(broker, state="waiting")
    eventually(lambda: "expect TLS" in str(plain.report().last_error), "a hint at TLS")


def test_an_unreadable_authority_or_secret_is_the_keepers_to_mend(intake: Intake, tmp_path: Path) -> None:
    (tmp_path / "ca.crt").write_text("no certificate")
    for more in (
        {"tls": True, "ca_file": "ca.crt"},
        {"tls": True, "ca_file": "none.crt"},
        {"username": "a", "password": "file:none"},
    ):
        settings = MqttSettings.model_validate({"host": "localhost", **more}, context={"folder": tmp_path})
        with pytest.raises(SettingsError, match=r"ca\.crt|none"):
            MqttLink(settings, "test", ROUTES, intake).start()


def test_a_broker_that_is_not_there_is_waited_for_and_stop_is_prompt(intake: Intake, eventually: Eventually) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound, not listening: refuses
        settings = MqttSettings(host="127.0.0.1", port=taken.getsockname()[1])
        link = MqttLink(settings, "test-pond-probes", ROUTES, intake)
        link.start()
        eventually(lambda: link.report().last_error is not None, "a reason given")
        assert link.report().state == "waiting"
        assert "refused" in str(link.report().last_error)
        link.stop()
    eventually(lambda: not [t for t in threading.enumerate() if "test-pond" in t.name], "the thread ended")


def test_topics_of_an_earlier_configuration_do_not_block(
    mosquitto: Any, open_link: Any, publish: Any, drain: Drain, eventually: Eventually
) -> None:
    broker, now = mosquitto(), Intake(lambda: 1)
    open_link(broker, routes=[("pond/old", Route("old"))]).stop()
    publish(broker, "pond/old", *(["7.0"] * 25))
    link = open_link(broker, into=now)
    publish(broker, "pond/ph", "7.12")
    eventually(lambda: len(now) == 1)
    assert _values(drain(now)) == [7.12]
    assert link.report().bad == {"unknown topic": 25}


def test_qos_0_on_a_full_queue_is_dropped_and_counted(
    mosquitto: Any, open_link: Any, publish: Any, eventually: Eventually
) -> None:
    broker, small = mosquitto(), Intake(lambda: 1, capacity=2)
    link = open_link(broker, into=small)
    publish(broker, "pond/ph", "7.0", "7.1", "7.2", qos=0)
    eventually(lambda: link.report().dropped == 1)
    publish(broker, "pond/ph", "7.3")
    eventually(lambda: len(small) == 3, "QoS 1 taken all the same")


def test_a_crash_in_a_callback_costs_one_message(
    mosquitto: Any,
    intake: Intake,
    open_link: Any,
    publish: Any,
    drain: Drain,
    eventually: Eventually,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    broker = mosquitto()
    link = open_link(broker)
    real = link._routings["pond/ph"].route

    def crash_once(fields: Any) -> Any:
        monkeypatch.setattr(link._routings["pond/ph"], "route", real)
        raise RuntimeError("a bug")

    monkeypatch.setattr(link._routings["pond/ph"], "route", crash_once)
    publish(broker, "pond/ph", "7.1", "7.2")
    eventually(lambda: len(intake) == 1)
    assert _values(drain(intake)) == [7.2]
    assert link.report().bad == {"fault of ours": 1}
    assert link.report().last_refused["fault of ours"] == "RuntimeError: a bug"
