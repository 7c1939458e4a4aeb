"""A card that takes nothing, and a broker that waits: what comes is heard all the same, counted once, and not lost."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import paho.mqtt.client as paho
import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.broker import MqttSettings
from dawnline.event import Tick
from dawnline.probes.dialects.routing import Route
from dawnline.probes.intake import Batch, Intake, Receipt
from dawnline.probes.links import mqtt
from dawnline.probes.links.echo import Echo
from dawnline.probes.links.mqtt import MqttLink

WINDOW = 4
ROUTES = [("pond/ph", Route("ph")), ("pond/deep", Route("deep"))]


class Bench:
    """A link, a sender, and what a core would have taken, committed and held."""

    def __init__(self, broker: Any, eventually: Callable[..., None], known: list[Receipt] | None = None) -> None:
        self.broker, self.eventually = broker, eventually
        self.intake = Intake(lambda: 1_000_000)
        settings = MqttSettings(host=broker.host, port=broker.port, window=WINDOW)
        self.link = MqttLink(settings, "test-pond-probes", ROUTES, self.intake, known or [])
        self.link.start()
        self.sender = paho.Client(CallbackAPIVersion.VERSION2)
        self.sender.connect(broker.host, broker.port)
        self.sender.loop_start()
        self.values: list[float] = []
        self.receipts: list[Receipt] = []
        eventually(lambda: self.link.report().state == "connected" and "SUBACK to test-pond-probes" in broker.log)

    def say(self, *payloads: str, topic: str = "pond/ph", qos: int = 1) -> None:
        for payload in payloads:
            self.sender.publish(topic, payload, qos=qos).wait_for_publish(10)

    def take(self) -> None:
        while not isinstance(item := self.intake.take(0), Tick):
            assert isinstance(item, Batch)
            self.values += [sample.value for sample in item.samples]
            self.receipts += [item.receipt] if item.receipt is not None else []

    def hears(self, number: int) -> None:
        def enough() -> bool:
            self.take()
            return len(self.values) >= number

        self.eventually(enough, f"{number} values, there are {self.values}")

    def refuse(self) -> None:
        """The card takes nothing, said by the core at each commit that fails."""
        self.take()
        assert list(self.link.let_go(self.receipts)) == []

    def commit(self) -> None:
        """All that was taken is on the card."""
        self.take()
        done, self.receipts = self.receipts, []
        self.link.acknowledge(done)

    def ear_listens(self) -> None:
        before = self.broker.log.count("Sending SUBACK to test-pond-probes-ear")

        def listens() -> bool:
            self.refuse()
            return bool(self.broker.log.count("Sending SUBACK to test-pond-probes-ear") > before)

        self.eventually(listens, "the ear listens")

    def all_acknowledged(self, number: int) -> None:
        def through() -> bool:
            self.commit()
            return bool(self.broker.log.count("Received PUBACK from test-pond-probes") == number)

        self.eventually(through, "all acknowledged")


@pytest.fixture
def bench(mosquitto: Any, eventually: Callable[..., None]) -> Iterator[Bench]:
    made = Bench(mosquitto(persistence=True, config_lines=[f"max_inflight_messages {WINDOW}"]), eventually)
    yield made
    made.link.stop()
    made.sender.disconnect()
    made.sender.loop_stop()


def test_beyond_the_window_it_is_heard_at_once_and_acknowledged_once_it_is_on_the_card(bench: Bench) -> None:
    bench.say("7.01", "7.02", "7.03", "7.04")
    bench.hears(4)
    bench.ear_listens()
    later = [f"{7.1 + 0.01 * number:.2f}" for number in range(20)]
    bench.say(*later)
    bench.hears(24)
    assert bench.broker.log.count("Received PUBACK from test-pond-probes") == 0
    assert len([receipt for receipt in bench.receipts if receipt.mid]) == WINDOW
    assert not bench.link.all_heard()
    bench.all_acknowledged(24)
    bench.say("7.9")
    bench.hears(25)
    assert bench.values == [7.01, 7.02, 7.03, 7.04, *map(float, later), 7.9]
    bench.all_acknowledged(25)
    assert bench.link.all_heard()


def test_what_comes_by_both_ways_counts_once_even_where_all_say_the_same(bench: Bench) -> None:
    bench.say("7.0", "7.0")
    bench.hears(2)
    bench.ear_listens()  # half a window is out: two more come by both ways
    bench.say("7.0", "7.0", "7.0", "7.0", "7.0")
    bench.hears(7)
    bench.say("7.0", topic="pond/deep")
    bench.say("7.0", qos=0)
    bench.hears(9)
    bench.all_acknowledged(8)
    assert bench.values == [7.0] * 9


def test_a_backlog_from_before_is_taken_and_what_was_heard_behind_it_counts_once(bench: Bench) -> None:
    bench.say("7.01", "7.02", "7.03", "7.04", "7.05", "7.06", "7.07")  # three wait at the broker
    bench.hears(4)
    bench.ear_listens()
    bench.say("7.08", "7.09")
    bench.hears(6)
    assert bench.values == [7.01, 7.02, 7.03, 7.04, 7.08, 7.09]
    bench.all_acknowledged(9)
    assert bench.values == [7.01, 7.02, 7.03, 7.04, 7.08, 7.09, 7.05, 7.06, 7.07]


def test_a_window_that_was_full_for_long_is_no_quiet(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mqtt, "QUIET_S", 0.5)
    bench.say("7.01", "7.02", "7.03", "7.04")
    bench.hears(4)
    bench.ear_listens()
    bench.say("7.05", "7.06", "7.07")
    bench.hears(7)
    time.sleep(1.0)  # the card takes nothing
    bench.all_acknowledged(7)
    assert bench.values == [7.01, 7.02, 7.03, 7.04, 7.05, 7.06, 7.07]


def test_a_process_that_ends_meanwhile_loses_nothing(bench: Bench, eventually: Callable[..., None]) -> None:
    bench.say("7.01", "7.02", "7.03", "7.04")
    bench.hears(4)
    bench.ear_listens()
    bench.say("7.05", "7.06")
    bench.hears(6)
    bench.link.stop()
    again = Bench(bench.broker, eventually)
    again.commit()
    again.hears(4)
    again.commit()
    again.hears(6)
    assert sorted(again.values) == [7.01, 7.02, 7.03, 7.04, 7.05, 7.06]  # a broker may resend out of order
    again.link.stop()
    again.sender.disconnect()
    again.sender.loop_stop()


def test_a_process_that_ends_after_the_commit_doubles_nothing(bench: Bench, eventually: Callable[..., None]) -> None:
    """All of it is on the card, and the broker has not heard of it: its copies are known by the stored receipts."""
    bench.say("7.01", "7.02", "7.03", "7.04")
    bench.hears(4)
    bench.ear_listens()
    bench.say("7.05", "7.06", "7.01", "7.07", "7.08")
    bench.hears(9)
    bench.link.stop()
    again = Bench(bench.broker, eventually, bench.receipts)
    again.say("7.09")
    again.all_acknowledged(10)
    again.say("7.05")
    again.hears(2)
    assert again.values == [7.09, 7.05]
    assert again.link.all_heard()
    again.link.stop()
    again.sender.disconnect()
    again.sender.loop_stop()


def test_without_need_there_is_no_second_subscription(bench: Bench) -> None:
    bench.say("7.01")
    bench.hears(1)
    bench.refuse()
    bench.say("7.02")
    bench.hears(2)
    assert "test-pond-probes-ear" not in bench.broker.log


MESSAGES = st.lists(st.tuples(st.sampled_from("ab"), st.sampled_from("xyz")), max_size=12)


@given(MESSAGES, st.data())
def test_each_message_is_new_once_however_the_two_ways_interleave(
    messages: list[tuple[str, str]], data: st.DataObject
) -> None:
    echo = Echo()
    echo.listening(True)
    ways = {"ear": list(messages), "session": list(messages)}
    new = []
    while any(ways.values()):
        way = data.draw(st.sampled_from(sorted(name for name, left in ways.items() if left)))
        topic, digest = ways[way].pop(0)
        if (echo.by_ear if way == "ear" else echo.by_session)((topic + digest).encode()):
            new.append((topic, digest))
    assert sorted(new) == sorted(messages)


def test_what_waited_before_the_ear_began_ends_nothing() -> None:
    """A backlog that only the session knows comes first: what the ear heard behind it is still known."""
    echo = Echo()
    echo.listening(True)
    assert echo.by_ear(b"new")
    echo.listening(False)
    assert echo.by_session(b"old")
    assert echo.by_session(b"older")
    assert not echo.by_session(b"new")
    again = Echo([b"1", b"2", b"3"])
    assert again.by_session(b"old")
    assert not again.by_session(b"2")
    assert not again.by_session(b"3")
    assert again.through()


def test_what_the_ear_heard_and_the_session_never_brings_swallows_nothing_for_ever() -> None:
    echo = Echo([b"0"])
    echo.listening(True)
    assert echo.by_ear(b"1")
    assert echo.by_ear(b"2")
    echo.quiet()  # the ear listens: it is the window that is full
    echo.listening(False)
    assert not echo.by_ear(b"3")  # the session has it
    assert not echo.by_session(b"1")
    assert not echo.through()
    echo.quiet()  # nothing waits at the broker: "2" was lost there
    assert echo.through()
    assert echo.by_session(b"2")
    echo.listening(True)
    assert echo.by_ear(b"5")
    echo.listening(False)
    echo.forget()
    assert echo.by_session(b"5")
