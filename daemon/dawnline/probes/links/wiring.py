"""From the settings of probes to links: one for each port, each folder of 1-Wire devices, and the broker."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dawnline.broker import MqttSettings
from dawnline.duration import SECOND_MS
from dawnline.errors import SettingsError
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

    `client_id` must be this pond's own and stay the same (see `dawnline.broker.client_id`); with a `connection` that
    ponds share, this one has its seat there by its name `pond`. Libraries are
    imported only for links that are there. Raises SettingsError where settings contradict each other.
    """
    links: list[Link] = []
    shared: dict[tuple[str, str], list[ProbeSettings]] = {}
    for probe in probes:
        if probe.link != "mqtt":
            place = probe.folder if probe.link == "onewire" else probe.port
            shared.setdefault((probe.link, str(place)), []).append(probe)
    ports = [port for link, port in shared if link != "onewire"]
    if len(ports) > len(set(ports)):
        raise SettingsError("[[probes]]: one port carries one `link`, serial or modbus; give each a port of its own")
    for (link, _), sharing in shared.items():
        links.append(_BUILD[link](sharing, intake))
    by_mqtt = [probe for probe in probes if probe.link == "mqtt"]
    if by_mqtt:
        links.append(
            _mqtt(by_mqtt, mqtt, intake, known_receipts, client_id=client_id, connection=connection, pond=pond)
        )
    return links


def _serial(sharing: Sequence[ProbeSettings], intake: Intake) -> Link:
    from dawnline.probes.links.serial import SerialLink

    port = str(sharing[0].port)
    _same(sharing, "baud")
    return SerialLink(port, sharing[0].baud, [_route(probe) for probe in sharing], intake)


def _modbus(sharing: Sequence[ProbeSettings], intake: Intake) -> Link:
    from dawnline.probes.links.modbus import ModbusLink, RegisterRead
    from dawnline.probes.links.modbus_bus import Line

    for key in ("baud", "parity", "stopbits"):
        _same(sharing, key)
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


def _same(sharing: Sequence[ProbeSettings], key: str) -> None:
    if len({getattr(probe, key) for probe in sharing}) > 1:
        names = ", ".join(f"{probe.name} ({getattr(probe, key)})" for probe in sharing)
        raise SettingsError(
            f"[[probes]] on {sharing[0].port}: one port has one `{key}`, found {names}; give all the same"
        )


def _interval_s(probe: ProbeSettings) -> float:
    return (probe.interval or POLL_MS) / SECOND_MS


def _mqtt(
    probes: Sequence[ProbeSettings],
    settings: MqttSettings | None,
    intake: Intake,
    known_receipts: Iterable[Receipt],
    *,
    client_id: str,
    connection: MqttConnection | None,
    pond: str,
) -> Link:
    from dawnline.probes.links.mqtt import MqttLink

    if settings is None:
        names = ", ".join(probe.name for probe in probes)
        raise SettingsError(f'[[probes]] {names}: `link = "mqtt"` needs a section [mqtt] with at least `host`')
    routes = [(probe.topic, _route(probe)) for probe in probes if probe.topic is not None]
    return MqttLink(settings, client_id, routes, intake, known_receipts, connection=connection, pond=pond)


def _route(probe: ProbeSettings) -> Route:
    return Route(probe.name, probe.key, probe.time_key, probe.scale)


def link_name(mqtt: MqttSettings) -> str:
    """The name of the link to this broker, under which its receipts are kept."""
    return f"mqtt:{mqtt.host}:{mqtt.port}"
