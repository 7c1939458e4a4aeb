"""The client against a broker of a few lines, which sends what it sends in pieces of any size."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing

import pytest

from dawnline.broker import MqttSettings, connect_to, make_client
from dawnline.mqtt_client import PIECE

CONNACK = b"\x20\x02\x00\x00"


def publish(payload: bytes) -> bytes:
    """A PUBLISH at QoS 0 (MQTT 3.1.1, section 3.3) on topic `a`, shorter than 16 kB."""
    body = b"\x00\x01a" + payload
    length = bytes([len(body)]) if len(body) < 128 else bytes([len(body) % 128 | 128, len(body) // 128])
    return b"\x30" + length + body


class Broker:
    """Sends to each connection the pieces of its turn, then closes; the last one it keeps open."""

    def __init__(self, turns: Sequence[Sequence[bytes]]) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        self._turns = turns
        self._open: list[socket.socket] = []
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        for number, pieces in enumerate(self._turns):
            line, _ = self._server.accept()
            line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            line.recv(1000)  # CONNECT
            for piece in (CONNACK, *pieces):
                line.sendall(piece)
            if number < len(self._turns) - 1:
                line.close()
            else:
                self._open.append(line)

    def close(self) -> None:
        """It is gone."""
        for each in (self._server, *self._open):
            each.close()


def heard(turns: Sequence[Sequence[bytes]], number: int) -> list[bytes]:
    """The first `number` payloads that a client has of them."""
    found: list[bytes] = []
    enough = threading.Event()
    with closing(Broker(turns)) as broker:
        settings = MqttSettings(host="127.0.0.1", port=broker.port)
        client = make_client(settings, client_id="x", clean_session=True)
        client.reconnect_delay_set(1, 1)

        def on_message(_client: object, _data: object, message: object) -> None:
            found.append(message.payload)  # type: ignore[attr-defined]
            if len(found) >= number:
                enough.set()

        client.on_message = on_message
        connect_to(client, settings)
        client.loop_start()
        enough.wait(30)
        client.disconnect()
        client.loop_stop()
    return found


def cut(stream: bytes, size: int) -> Iterator[bytes]:
    """The stream in pieces of this size."""
    return (stream[at : at + size] for at in range(0, len(stream), size))


SAID = [b"%d" % number * (number % 40 + 1) for number in range(300)]


@pytest.mark.parametrize("size", [7, 1000, PIECE])
def test_messages_come_whole_and_in_order_however_they_are_cut(size: int) -> None:
    stream = b"".join(map(publish, SAID))
    assert heard([list(cut(stream, size))], len(SAID)) == SAID


def test_a_message_longer_than_a_piece_comes_whole() -> None:
    long = b"x" * (3 * PIECE)
    body = b"\x00\x01a" + long
    head = b"\x30" + bytes([len(body) % 128 | 128, len(body) // 128 % 128 | 128, len(body) // 16_384])
    assert heard([[head + body, publish(b"after")]], 2) == [long, b"after"]


def test_what_a_lost_connection_left_unfinished_does_not_run_into_the_next() -> None:
    half = publish(b"never whole")[:-4]
    assert heard([[publish(b"one") + half], [publish(b"two")]], 2) == [b"one", b"two"]
