"""The connection by which ponds show themselves on MQTT: of one pond alone, or shared by those of one broker.

A shared one is the root of a tree after the Homie convention: the broker keeps one last will a connection, and a root
that is `lost` means that all its children are.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

import structlog

from dawnline.broker import MqttSettings, Will, connect_to, make_client
from dawnline.delivery import homie

if TYPE_CHECKING:
    from paho.mqtt.client import Client

GOODBYE_S = 2.0

_log = structlog.get_logger(__name__)


class Device(Protocol):
    """What shows itself by a line."""

    base: str

    def greet(self) -> None:
        """The broker is there: say everything anew. On the network thread."""

    def lost(self) -> None:
        """The broker is gone. On the network thread."""

    def take(self, path: str, payload: bytes, *, retained: bool) -> None:
        """Something was published below this device. On the network thread."""


class MqttLine:
    """One client. `device` is the only one of its connection, or None where `root` names the root of many."""

    def __init__(self, settings: MqttSettings, client_id: str, base: str, root: str | None = None) -> None:
        """Raises SettingsError where the password or the CA file cannot be read."""
        self.root = None if root is None else homie.device_id(root)
        self._name = root
        self._base = base if root is None else f"{homie.ROOT}/{homie.device_id(root)}"
        self._settings = settings
        self._devices: dict[str, Device] = {}
        self._children: list[str] = []
        self._lock = threading.Lock()
        self._started = False
        self.up = False
        self._client: Any = make_client(
            settings, client_id=client_id, clean_session=True, will=Will(f"{self._base}/$state", "lost")
        )
        self._client.on_connect = self._on_connect
        self._client.on_disconnect = self._on_disconnect
        self._client.on_message = self._on_message

    def expect(self, child: str) -> None:
        """A child of the root, there or not yet: the description names all of them."""
        self._children.append(child)

    def join(self, device: Device) -> None:
        """This device shows itself from now on."""
        with self._lock:
            self._devices[device.base] = device
            up = self.up
        if up:
            self._greet(device)

    def leave(self, device: Device) -> None:
        """It does no longer."""
        with self._lock:
            if self._devices.get(device.base) is device:
                del self._devices[device.base]

    def start(self) -> None:
        """Connect in the background; a broker that is away is tried again for ever. A second call does nothing."""
        with self._lock:
            if self._started:
                return
            self._started = True
        connect_to(self._client, self._settings)
        self._client.loop_start()

    def stop(self) -> None:
        """Leave; a root says goodbye first, at most two seconds long."""
        if self.root is not None and self.up:
            self.goodbye(self.publish(f"{self._base}/$state", b"disconnected", qos=1, retain=True))
        self.up = False
        self._client.disconnect()
        self._client.loop_stop()

    @staticmethod
    def goodbye(sent: Any) -> None:
        """Wait until a last word is taken; a connection that went meanwhile has its will to speak for us."""
        try:
            sent.wait_for_publish(GOODBYE_S)
        except (RuntimeError, ValueError) as error:
            _log.warning("mqtt-state-goodbye-lost", error=str(error))

    def publish(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> Any:
        """Send; returns at once."""
        return self._client.publish(topic, payload, qos=qos, retain=retain)

    # ------------------------------------------------------------ called by the client's thread

    def _on_connect(self, _client: Client, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
        def work() -> None:
            if reason.is_failure:
                _log.warning("mqtt-state-not-accepted", reason=str(reason))
                return
            if self._name is not None:
                self._say("$state", "init")
                self._say("$description", homie.root_description(self._name, self._children))
                self._say("$state", "ready")
            with self._lock:
                self.up = True
                devices = list(self._devices.values())
            for device in devices:
                self._greet(device)

        _caught(work)

    def _greet(self, device: Device) -> None:
        self._client.subscribe([(f"{device.base}/{homie.ACKNOWLEDGE}/set", 1), (f"{device.base}/$alert/+", 0)])
        device.greet()

    def _say(self, path: str, text: str) -> None:
        self.publish(f"{self._base}/{path}", text.encode("utf-8", "replace"), qos=0, retain=True)

    def _on_disconnect(self, _client: Client, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
        with self._lock:
            self.up = False
            devices = list(self._devices.values())
        for device in devices:
            device.lost()
        _log.info("mqtt-state-disconnected", reason=str(reason))

    def _on_message(self, _client: Client, _data: Any, message: Any) -> None:
        def work() -> None:
            base = "/".join(message.topic.split("/", 3)[:3])
            device = self._devices.get(base)
            if device is not None:
                device.take(message.topic.removeprefix(base + "/"), bytes(message.payload), retained=message.retain)

        _caught(work)


def _caught(work: Callable[[], None]) -> None:
    try:
        work()
    except Exception:  # noqa: BLE001  an exception that leaves a callback ends the network thread
        _log.exception("mqtt-state-crashed")
