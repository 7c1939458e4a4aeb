"""The pond's state on MQTT, kept current for whoever listens; an acknowledgement comes back the same way."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Mapping
from typing import Any

import structlog

from dawnline.broker import MqttSettings, client_id
from dawnline.delivery import homie
from dawnline.delivery.mqtt_line import MqttLine
from dawnline.quantity import Quantity

_NUMBER = re.compile(rb"[1-9][0-9]{0,8}")

_log = structlog.get_logger(__name__)


class MqttState:
    """Publishes one pond as a Homie device (see homie.py); `nodes` gives the node of each probe name.

    Everything goes out at QoS 0 and is sent whole again after each connect. With QoS 1 the client would
    repeat unacknowledged old values after the newer ones sent on connect, and the broker would keep the old.
    `acknowledge` is called, on the network thread, with the number of an alarm that somebody says they have; whoever
    may publish at this broker may say so. `line` is a connection that ponds share; without, it has its own.
    Raises SettingsError where the password or the CA file cannot be read.
    """

    def __init__(
        self,
        settings: MqttSettings,
        pond_name: str,
        probes: Mapping[str, Quantity],
        acknowledge: Callable[[int], None] | None = None,
        line: MqttLine | None = None,
    ) -> None:
        self.nodes = homie.node_ids(probes)
        self.base = f"{homie.ROOT}/{homie.device_id(pond_name)}"
        self._line = line or MqttLine(settings, client_id(settings, pond_name, "state"), self.base)
        self._shared = line is not None
        self._description = homie.description(pond_name, probes, self._line.root)
        self._properties = homie.properties(probes)
        self._lock = threading.Lock()
        self._values: dict[str, str] = {}
        self._alerts: dict[str, str] = {}
        self._acknowledge = acknowledge
        self._refused: set[str] = set()
        self._connected = False
        self._stopped = False

    @property
    def connected(self) -> bool:
        """Whether the broker hears us now."""
        return self._connected

    def start(self) -> None:
        """Connect in the background; a broker that is away is tried again for ever."""
        self._line.join(self)
        if not self._shared:
            self._line.start()

    def stop(self) -> None:
        """Say `disconnected`, wait at most two seconds for it to be taken, and leave."""
        with self._lock:
            self._stopped = True
            goodbye = self._send("$state", "disconnected", qos=1) if self._connected else None
            self._connected = False
        self._line.leave(self)
        if goodbye is not None:
            self._line.goodbye(goodbye)
        if not self._shared:
            self._line.stop()

    def publish(self, values: Mapping[str, str], alerts: Mapping[str, str] | None = None) -> None:
        """Take new values by "node/property", and all alerts by ID, and send what changed; returns at once.

        An empty value takes a number or a choice away. A name or a value that the description does not allow
        is left out and logged once.
        """
        with self._lock:
            for path, value in values.items():
                if not self._allowed(path, value) or self._values.get(path) == value:
                    continue
                self._values[path] = value
                if self._connected:
                    self._send(path, self._properties[path].payload(value))
            if alerts is not None and self._alerts != alerts:
                self._change_alerts(alerts)

    def tell(self, path: str, value: str) -> None:
        """An event: a property that is not retained, told once to those who listen."""
        with self._lock:
            if self._connected and self._allowed(path, value):
                payload = self._properties[path].payload(value).encode("utf-8", "replace")
                self._line.publish(f"{self.base}/{path}", payload, qos=0, retain=False)

    def _change_alerts(self, alerts: Mapping[str, str]) -> None:
        before, self._alerts = self._alerts, dict(alerts)
        if self._connected:
            for name in before.keys() | alerts.keys():
                if before.get(name) != alerts.get(name):
                    self._send(f"$alert/{name}", alerts.get(name, ""))

    def _allowed(self, path: str, value: str) -> bool:
        known = self._properties.get(path)
        if known is not None and known.takes(value):
            return True
        if path not in self._refused:
            self._refused.add(path)
            _log.warning("mqtt-state-refused", property=path, known=known is not None, value=value[:40])
        return False

    def _send(self, path: str, payload: str, qos: int = 0) -> Any:
        data = payload.encode("utf-8", "replace")
        return self._line.publish(f"{self.base}/{path}", data, qos=qos, retain=True)

    def greet(self) -> None:
        """The broker is there: everything is said anew. Called by the line."""
        with self._lock:
            if not self._stopped:
                self._send_all()
                self._connected = True

    def lost(self) -> None:
        """The broker is gone. Called by the line."""
        self._connected = False

    def _send_all(self) -> None:
        self._send("$state", "init")
        self._send("$description", self._description)
        for path, value in self._values.items():
            self._send(path, self._properties[path].payload(value))
        for name, text in self._alerts.items():
            self._send(f"$alert/{name}", text)
        self._send("$state", "ready")

    def take(self, path: str, payload: bytes, *, retained: bool) -> None:
        """Something was published below this device. Called by the line."""
        if path == f"{homie.ACKNOWLEDGE}/set":
            self._take_acknowledgement(payload, retained=retained)
        elif retained and payload:
            self._clear_old_alert(path)

    def _take_acknowledgement(self, payload: bytes, *, retained: bool) -> None:
        """What anybody on this network may have sent: the number of an alarm, or else nothing of use."""
        if retained:
            self.tell(homie.ANSWER, "refused: a retained message; send it without the retain flag")
        elif not _NUMBER.fullmatch(payload):
            self.tell(homie.ANSWER, "refused: expected the number of an alarm, such as 3")
        elif self._acknowledge is None:
            self.tell(homie.ANSWER, "refused: nobody takes acknowledgements here")
        else:
            self._acknowledge(int(payload))

    def _clear_old_alert(self, path: str) -> None:
        """An alert of an earlier run that no longer stands would stay at the broker for ever."""
        with self._lock:
            if path.startswith("$alert/") and path.removeprefix("$alert/") not in self._alerts and self._connected:
                self._send(path, "")
