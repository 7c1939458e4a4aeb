"""A full card, and a probe that speaks by MQTT alone: its alarm comes, and each of its readings is stored once."""

from __future__ import annotations

import signal
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.store.reader import Reader

from ..configuration import POND
from .small_card import ADA, Card

Eventually = Callable[..., None]


@pytest.mark.parametrize("killed", [False, True])
def test_the_alarm_comes_and_each_reading_is_stored_once(
    killed: bool, small: Path, tmp_path: Path, mosquitto: Any, eventually: Eventually
) -> None:
    """`killed`: right after the card has taken all, while the broker still has the copies."""
    broker = mosquitto(persistence=True)
    pond = Card(small, tmp_path)
    probe = '[[probes]]\nname = "ph"\nquantity = "ph"\nlink = "mqtt"\ntopic = "pond/ph"\n'
    server = f'[mqtt]\nhost = "{broker.host}"\nport = {broker.port}\n'
    pond.config.write_text(POND + probe + server + ADA, encoding="utf-8")
    sender = paho.Client(CallbackAPIVersion.VERSION2)
    sender.connect(broker.host, broker.port)
    sender.loop_start()
    sent: list[float] = []

    def say(level: float) -> None:
        sent.append(round(level + len(sent) * 1e-6, 6))
        sender.publish("pond/ph", f"{sent[-1]:.6f}", qos=1).wait_for_publish(10)

    def until(seen: Callable[[], bool], level: Callable[[], float] = lambda: 7.0) -> Callable[[], bool]:
        def turn() -> bool:
            say(level())
            return seen()

        return turn

    pond.start(DAWNLINE_CLOCK_RATE="300")
    try:
        eventually(lambda: "connected" in pond.log, "connected")
        eventually(until(lambda: len(sent) > 20), "some readings")
        pond.fill()
        eventually(until(lambda: "listening-beside" in pond.log), "a broker that waits")
        falling = iter(max(6.1, 7 - n / 100) for n in range(10_000))
        eventually(until(lambda: "pH is low" in pond.out, lambda: next(falling)), "ph-low is told")
        assert '"alarm": "no-data"' not in pond.log
        (small / "filler").unlink()
        eventually(lambda: "store-well-again" in pond.log, "all written")
        if killed:
            pond.kill()
            pond.start(DAWNLINE_CLOCK_RATE="300")
        say(6.1)

        def stored() -> Counter[float]:
            with Reader.open(small / "pond.db") as reader:
                return Counter(each.value for each in reader.readings("ph", 0, 1 << 60))

        eventually(lambda: sent[-1] in stored(), "the last one in the record")
        assert pond.stop() == 0
    finally:
        pond.end(signal.SIGKILL)
        sender.disconnect()
        sender.loop_stop()
        print(pond.log)
    assert stored() == Counter(sent)
    assert "Traceback" not in pond.log
