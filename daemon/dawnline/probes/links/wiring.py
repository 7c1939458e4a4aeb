"""From the settings of probes to links: one for each serial port, one for the broker."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dawnline.broker import MqttSettings
from dawnline.errors import SettingsError
from dawnline.probes.dialects.routing import Route
from dawnline.probes.intake import Intake, Receipt
from dawnline.probes.links.link import Link
from dawnline.probes.settings import ProbeSettings


def build_links(
    probes: Sequence[ProbeSettings],
    mqtt: MqttSettings | None,
    intake: Intake,
    known_receipts: Iterable[Receipt] = (),
    *,
    client_id: str = "dawnline-probes",
) -> list[Link]:
    """The links that these probes need, not yet started.

    `client_id` must be this pond's own and stay the same (see `dawnline.broker.client_id`). Libraries are
    imported only for links that are there. Raises SettingsError where settings contradict each other.
    """
    links: list[Link] = []
    ports: dict[str, list[ProbeSettings]] = {}
    for probe in probes:
        if probe.link == "serial" and probe.port is not None:
            ports.setdefault(probe.port, []).append(probe)
    for port, sharing in ports.items():
        links.append(_serial(port, sharing, intake))
    by_mqtt = [probe for probe in probes if probe.link == "mqtt"]
    if by_mqtt:
        links.append(_mqtt(by_mqtt, mqtt, intake, known_receipts, client_id))
    return links


def _serial(port: str, sharing: Sequence[ProbeSettings], intake: Intake) -> Link:
    from dawnline.probes.links.serial import SerialLink

    bauds = {probe.baud for probe in sharing}
    if len(bauds) > 1:
        names = ", ".join(f"{probe.name} ({probe.baud})" for probe in sharing)
        raise SettingsError(f"[[probes]] on {port}: one port has one `baud`, found {names}; give all the same")
    return SerialLink(port, sharing[0].baud, [_route(probe) for probe in sharing], intake)


def _mqtt(
    probes: Sequence[ProbeSettings],
    settings: MqttSettings | None,
    intake: Intake,
    known_receipts: Iterable[Receipt],
    client_id: str,
) -> Link:
    from dawnline.probes.links.mqtt import MqttLink

    if settings is None:
        names = ", ".join(probe.name for probe in probes)
        raise SettingsError(f'[[probes]] {names}: `link = "mqtt"` needs a section [mqtt] with at least `host`')
    routes = [(probe.topic, _route(probe)) for probe in probes if probe.topic is not None]
    return MqttLink(settings, client_id, routes, intake, known_receipts)


def _route(probe: ProbeSettings) -> Route:
    return Route(probe.name, probe.key, probe.time_key)


def link_name(mqtt: MqttSettings) -> str:
    """The name of the link to this broker, under which its receipts are kept."""
    return f"mqtt:{mqtt.host}:{mqtt.port}"
