"""From the settings of probes to links: one for each port, each folder of 1-Wire devices, and the broker."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dawnline.broker import MqttSettings
from dawnline.duration import SECOND_MS
from dawnline.probes.dialects.routing import Route
from dawnline.probes.intake import Intake, Receipt
from dawnline.probes.links.link import Link
from dawnline.probes.settings import ProbeSettings

if TYPE_CHECKING:
    from dawnline.probes.links.mqtt_connection import MqttConnection

POLL_MS = 10_000  # how often a device is asked where `interval` does not say


def build_links(
    probes: Sequence[ProbeSettings],
    mqtt: MqttSettings | None,
    intake: Intake,
    known_receipts: Iterable[Receipt] = (),
    *,
    client_id: str = "dawnline-probes",
    connection: MqttConnection | None = None,
    pond: str = "",
) -> list[Link]:
    """The links that these probes need, not yet started.

    The settings agree with one another (`settings_checks`). `client_id` must be this pond's own and stay the same (see
    `dawnline.broker.client_id`); with a `connection` that ponds share, this one has its seat there by its name `pond`.
    Libraries are imported only for links that are there.
    """
    links: list[Link] = []
    shared: dict[tuple[str, str], list[ProbeSettings]] = {}
    for probe in probes:
        if probe.link != "mqtt":
            place = probe.folder if probe.link == "onewire" else probe.port
            shared.setdefault((probe.link, str(place)), []).append(probe)
    for (link, _), sharing in shared.items():
        links.append(_BUILD[link](sharing, intake))
    by_mqtt = [probe for probe in probes if probe.link == "mqtt"]
    if by_mqtt and mqtt is not None:
        links.append(
            _mqtt(by_mqtt, mqtt, intake, known_receipts, client_id=client_id, connection=connection, pond=pond)
        )
    return links


def _serial(sharing: Sequence[ProbeSettings], intake: Intake) -> Link:
    from dawnline.probes.links.serial import SerialLink

    return SerialLink(str(sharing[0].port), sharing[0].baud, [_route(probe) for probe in sharing], intake)


def _modbus(sharing: Sequence[ProbeSettings], intake: Intake) -> Link:
    from dawnline.probes.links.modbus import ModbusLink, RegisterRead
    from dawnline.probes.links.modbus_bus import Line

    reads = [
        RegisterRead(probe.name, probe.unit, probe.table, probe.register, probe.form, _interval_s(probe))
        for probe in sharing
        if probe.unit is not None and probe.register is not None
    ]
    first = sharing[0]
    return ModbusLink(Line(str(first.port), first.baud, first.parity, first.stopbits), reads, intake)


def _onewire(sharing: Sequence[ProbeSettings], intake: Intake) -> Link:
    from dawnline.probes.links.onewire import DeviceRead, OneWireLink

    folder = Path(sharing[0].folder)
    reads = [DeviceRead(p.name, folder / str(p.device) / "w1_slave", _interval_s(p)) for p in sharing]
    return OneWireLink(folder, reads, intake)


_BUILD = {"serial": _serial, "modbus": _modbus, "onewire": _onewire}


def _interval_s(probe: ProbeSettings) -> float:
    return (probe.interval or POLL_MS) / SECOND_MS


def _mqtt(
    probes: Sequence[ProbeSettings],
    settings: MqttSettings,
    intake: Intake,
    known_receipts: Iterable[Receipt],
    *,
    client_id: str,
    connection: MqttConnection | None,
    pond: str,
) -> Link:
    from dawnline.probes.links.mqtt import MqttLink

    routes = [(probe.topic, _route(probe)) for probe in probes if probe.topic is not None]
    return MqttLink(settings, client_id, routes, intake, known_receipts, connection=connection, pond=pond)


def _route(probe: ProbeSettings) -> Route:
    return Route(probe.name, probe.key, probe.time_key, probe.scale)
