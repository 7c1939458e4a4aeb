"""How far a number is to be trusted, as it is said on MQTT by a running service, beside what `status` says."""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.store.reader import Reader

from ..configuration import broker

Eventually = Callable[..., None]
FAST = "60@2026-06-10T12:00:00+02:00@{origin}"  # a pond minute a second


def test_a_doubted_and_a_silent_probe_are_not_good_on_mqtt(
    make_pond: Callable[..., Any], eventually: Eventually, mosquitto: Callable[..., Any]
) -> None:
    server, now = mosquitto(), dict[str, str]()
    client: Any = paho.Client(CallbackAPIVersion.VERSION2)  # type: ignore[call-arg]
    client.on_connect = lambda c, *_: c.subscribe("homie/5/heron-lane/#")
    client.on_message = lambda _c, _d, m: now.update({m.topic.split("/", 3)[3]: m.payload.decode()})
    client.connect("127.0.0.1", server.port)
    client.loop_start()
    lines = itertools.cycle([f"ph=7.1{n} temp=18.{n}\n".encode() for n in (1, 4, 2, 5, 3)])

    def fed(seen: Callable[[], Any]) -> Callable[[], Any]:
        def look() -> Any:
            pond.say(next(lines))
            return seen()

        return look

    pond = make_pond(broker(server.port))
    try:
        pond.plug()
        pond.start(DAWNLINE_CLOCK_RATE=FAST.format(origin=time.time()))
        eventually(fed(lambda: now.get("ph/flag") == "good"), "a good pH")
        assert (now["ph/doubt"], now["pond/doubt"]) == ("\0", "\0")
        eventually(fed(lambda: pond.status()["probes"]["ph"]["time"] > "2026-06-10T12:06"), "a pH to compare with")
        eventually(fed(lambda: "noted" in pond.command("logbook", "add", "hand-test", "ph=5.9").stdout), "the test")
        eventually(fed(lambda: now.get("ph/flag") == "suspect"), "no good pH any more")
        assert now["ph/doubt"].startswith("drifting from the hand test: it shows 1.2")
        assert (now["water/flag"], now["water/doubt"]) == ("good", "\0")
        assert now["ph/value"].startswith("7.1")
        probe = pond.status()["probes"]["ph"]
        assert (probe["flag"], probe["kept_flag"]) == ("suspect", "good")
        assert f"doubted: {probe['doubt']}" in pond.command("status").stdout
        eventually(lambda: now["water/flag"] == "missing", "the silence of both")
        assert now["water/doubt"].startswith("nothing received for")
        assert now["ph/flag"] == "missing"
        assert pond.stop() == 0
        with Reader.open(pond.folder / "pond.db") as reader:  # what was measured is kept as it was
            assert {each.flag.label for each in reader.readings("ph", 0, 1 << 60)} <= {"good", "not evaluated"}
    finally:
        client.disconnect()
        client.loop_stop()
