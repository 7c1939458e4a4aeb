"""A second subscription, at QoS 0: it hears what comes while nothing can be acknowledged.

A broker sends a window of messages ahead of our acknowledgements and then waits. While the card takes nothing there are
none, and the watch would be blind by way of MQTT; to acknowledge what is in memory alone would break the promise. So
the messages go on to wait at the broker, and this hears them meanwhile.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import structlog

from dawnline.broker import MqttSettings, connect_to, make_client
from dawnline.errors import DawnlineError
from dawnline.probes.links.echo import Echo

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessage

_log = structlog.get_logger(__name__)


class Ear:
    """Listens between `start` and `stop`; `heard(topic, payload)` is called from a thread of its own."""

    def __init__(
        self,
        settings: MqttSettings,
        client_id: str,
        topics: Sequence[str],
        echo: Echo,
        heard: Callable[[str, bytes], None],
    ) -> None:
        self._settings, self._client_id, self._topics = settings, client_id, topics
        self._echo, self._heard = echo, heard
        self._client: Client | None = None

    def start(self) -> None:
        """Begin; a second call does nothing."""
        if self._client is not None:
            return
        try:
            client = make_client(self._settings, client_id=self._client_id, clean_session=True)
        except DawnlineError as error:  # a password's file, perhaps on the card that is the matter
            _log.warning("cannot-listen-beside", why=str(error))
            return
        self._client = client
        client.on_connect, client.on_disconnect, client.on_message = (
            self._on_connect,
            self._on_disconnect,
            self._on_message,
        )
        connect_to(client, self._settings)
        client.loop_start()
        _log.warning("listening-beside", why="the broker waits for acknowledgements that the card does not let us give")

    def stop(self) -> None:
        """End; a second call does nothing. What is heard from now on is for the session."""
        client, self._client = self._client, None
        if client is None:
            return
        self._echo.listening(False)
        client.disconnect()
        # loop_stop waits for its thread, which may sit in a connection attempt for seconds.
        threading.Thread(target=client.loop_stop, daemon=True).start()

    # ------------------------------------------------------------ called by the client's thread

    def _on_connect(self, client: Client, _: object, __: object, code: object, ___: object) -> None:
        if client is self._client and not getattr(code, "is_failure", True):
            self._echo.listening(True)  # from the asking on: what comes twice from now on is known for that
            client.subscribe([(topic, 0) for topic in self._topics])

    def _on_disconnect(self, client: Client, *_: object) -> None:
        if client is self._client:
            self._echo.listening(False)

    def _on_message(self, client: Client, _: object, message: MQTTMessage) -> None:
        if client is self._client and not message.retain:  # what is retained the session has long had
            self._heard(message.topic, bytes(message.payload))
