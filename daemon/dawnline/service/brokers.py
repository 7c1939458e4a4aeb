"""The connections that ponds of one process share: two at each broker, one for probes and one to show themselves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dawnline.broker import MqttSettings
from dawnline.delivery.homie import ROOT, device_id
from dawnline.delivery.mqtt_line import MqttLine
from dawnline.settings import Settings
from dawnline.settings_ponds import shared_broker

if TYPE_CHECKING:
    from dawnline.probes.links.mqtt_connection import MqttConnection


class Brokers:
    """Made for all ponds before the first of them is opened: the seats of those that are late are kept for them."""

    def __init__(self, ponds: Sequence[Settings]) -> None:
        """Raises SettingsError for a secret or a CA file that cannot be read."""
        self._connections: dict[MqttSettings, MqttConnection] = {}
        self._lines: dict[MqttSettings, MqttLine] = {}
        for each in ponds:
            mqtt = shared_broker(each)
            if mqtt is None:
                continue
            if mqtt not in self._lines:
                assert mqtt.client_id is not None
                self._lines[mqtt] = MqttLine(mqtt, f"{mqtt.client_id}-state", ROOT, mqtt.client_id)
            self._lines[mqtt].expect(device_id(each.pond.name))
            topics = [probe.topic for probe in each.probes if probe.link == "mqtt" and probe.topic]
            if topics:
                from dawnline.probes.links.mqtt_connection import MqttConnection

                if mqtt not in self._connections:
                    self._connections[mqtt] = MqttConnection(mqtt, f"{mqtt.client_id}-probes")
                self._connections[mqtt].keep(each.pond.name, topics)

    def connection(self, settings: Settings) -> MqttConnection | None:
        """The connection that brings this pond's readings; None where it has one of its own, or none."""
        mqtt = shared_broker(settings)
        return None if mqtt is None else self._connections.get(mqtt)

    def line(self, settings: Settings) -> MqttLine | None:
        """The connection by which this pond shows itself; None where it has one of its own, or none."""
        mqtt = shared_broker(settings)
        return None if mqtt is None else self._lines.get(mqtt)

    def start(self) -> None:
        """Connect; a broker that is away is tried again for ever."""
        for connection in self._connections.values():
            connection.start()
        for line in self._lines.values():
            line.start()

    def stop_taking(self) -> None:
        """Take nothing more: the ponds are about to end. What was not acknowledged will be sent again."""
        for connection in self._connections.values():
            connection.stop()

    def stop(self) -> None:
        """Leave the brokers."""
        for line in self._lines.values():
            line.stop()
