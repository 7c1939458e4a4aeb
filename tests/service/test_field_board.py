"""Field boards behind a real broker, one of them behind a link that is cut for hours: what it kept comes later."""

from __future__ import annotations

import json
import math
import signal
import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from dawnline.reading import Flag
from dawnline.store.reader import Reader

from ..configuration import broker, mqtt, place
from ..household import Household

RATE = 600  # ten minutes a second
BEGINS = datetime(2026, 6, 10, tzinfo=UTC)


def pond_of(name: str, port: int) -> str:
    """A pond whose board gives its own time."""
    probe = mqtt("ph", "ph", f"{name}/state", 'time_key = "time"')
    return (
        place(name, f"{name}.db") + broker(port, 'client_id = "club"') + probe + '[alarms.no-data]\non_delay = "0s"\n'
    )


class Link:
    """What lies between a board and its broker, and can be cut."""

    def __init__(self, target: int) -> None:
        self._target, self._whole, self._open = target, True, list[socket.socket]()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        self._whole = False
        for each in self._open:
            with suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)

    def mend(self) -> None:
        self._whole = True

    def close(self) -> None:
        self.cut()
        self._listener.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                caller, _ = self._listener.accept()
                if not self._whole:
                    caller.close()
                    continue
                called = socket.create_connection(("127.0.0.1", self._target))
                self._open += [caller, called]
                for one, other in ((caller, called), (called, caller)):
                    threading.Thread(target=self._pass, args=(one, other), daemon=True).start()

    def _pass(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError), one, other:
            while data := one.recv(4096):
                other.sendall(data)
            other.shutdown(socket.SHUT_RDWR)


class Board:
    """A reading each minute of pond time, at QoS 1 and with its own time; what is not answered waits, in its order."""

    def __init__(self, name: str, port: int, origin_s: float) -> None:
        self.name, self.said = name, dict[int, float]()
        self._origin_s, self._stop = origin_s, threading.Event()
        self.client = paho.Client(CallbackAPIVersion.VERSION2, client_id=f"board-{name}", clean_session=False)
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._stop.wait(60 / RATE):
            at_s = BEGINS.timestamp() + (time.time() - self._origin_s) * RATE
            number = len(self.said)
            ph = round(7.6 - 0.4 * math.cos(2 * math.pi * (at_s / 86_400 - 5 / 24)) + 0.004 * math.sin(number * 1.7), 3)
            self.said[round(at_s * 1000)] = ph
            self.client.publish(f"{self.name}/state", json.dumps({"ph": ph, "time": round(at_s * 1000)}), qos=1)

    def end(self, eventually: Callable[..., None]) -> None:
        """Measure no more, and wait until the broker has all."""
        self._stop.set()
        self._thread.join()
        eventually(lambda: not self.client._out_messages, f"all of {self.name} sent")
        self.client.disconnect()
        self.client.loop_stop()


def heard(ponds: Household) -> dict[str, int]:
    """How many messages each pond has taken."""
    return {row["pond"]: sum(link["good"] for link in row["links"]) for row in ponds.status()}


def test_hours_behind_a_cut_link_come_later_in_order_none_lost_or_doubled(
    tmp_path: Path, mosquitto: Any, eventually: Callable[..., None]
) -> None:
    broker = mosquitto(persistence=True)
    ponds = Household(tmp_path, {name: pond_of(name, broker.port) for name in ("alder", "birch")})
    origin_s = time.time()
    ponds.start(DAWNLINE_CLOCK_RATE=f"{RATE}@{BEGINS.isoformat()}@{origin_s}")
    link = Link(broker.port)
    try:
        eventually(lambda: "watching-many" in ponds.log, "watched")
        eventually(lambda: broker.log.count("Sending SUBACK") >= 1)
        boards = [Board("alder", link.port, origin_s), Board("birch", broker.port, origin_s)]
        eventually(lambda: len(boards[0].said) > 40, "readings before")
        link.cut()
        cut_at = max(boards[0].said)
        eventually(lambda: len([at for at in boards[0].said if at > cut_at]) > 90, "an hour and a half behind it")
        link.mend()
        mended_at = max(boards[0].said)
        eventually(lambda: not boards[0].client._out_messages, "what was kept is sent")
        eventually(lambda: len([at for at in boards[0].said if at > mended_at]) > 60, "readings after it")
        for board in boards:
            board.end(eventually)
        eventually(lambda: all(heard(ponds)[each.name] >= len(each.said) for each in boards), "all of it heard")
        assert ponds.stop() == 0
    finally:
        ponds.end(signal.SIGKILL)
        link.close()
    for board in boards:
        with Reader.open(ponds.config / f"{board.name}.db") as reader:
            kept = list(reader.readings("ph", 0, 1 << 45))
            moved = [(each.alarm, each.change) for each in reader.transitions(0, 1 << 45)]
        assert {each.at: each.value for each in kept} == board.said
        assert len(kept) == len(board.said)
        assert {each.flag for each in kept} == {Flag.GOOD}
        came = [each.received_at for each in kept]
        assert came == sorted(came)
        assert {alarm for alarm, _ in moved} <= {"no-data"}
        changes = [change for _, change in moved]
        if board.name == "alder":
            assert changes[:2] == ["raised", "returned"]
        else:
            assert "returned" not in changes  # one may be raised at the end, when the board has stopped
