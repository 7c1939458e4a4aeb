"""The configurations of many ponds: found, read, and held against one another. All faults of all files at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from dawnline.broker import MqttSettings
from dawnline.delivery.homie import device_id
from dawnline.errors import SettingsError
from dawnline.settings import Settings, find_config, load
from dawnline.store.inbox import inbox_path


def find_configs(arguments: Sequence[str] | None) -> list[Path]:
    """The files: those named, and of a folder every `*.toml` in it, in order of their names."""
    found: list[Path] = []
    for path in [Path(each) for each in arguments] if arguments else [find_config(None)]:
        if not path.is_dir():
            found.append(path)
            continue
        inside = sorted(path.glob("*.toml"))
        if not inside:
            raise SettingsError(f"{path}: found no *.toml in this folder, expected a configuration for each pond")
        found += inside
    for path, times in Counter(path.absolute() for path in found).items():
        if times > 1:
            raise SettingsError(f"--config: found {path} more than once, expected each pond once")
    return found


def load_ponds(paths: Sequence[Path]) -> list[Settings]:
    """The settings of all these ponds. Raises SettingsError with every fault of every file, one a line."""
    ponds, faults = [], []
    for path in paths:
        try:
            ponds.append(load(path))
        except SettingsError as error:
            faults.append(str(error))
    faults += _disagreements(ponds)
    if faults:
        raise SettingsError("\n".join(faults))
    return ponds


def one_page(ponds: Sequence[Settings]) -> None:
    """One page shows them all: it listens once. Raises SettingsError where they do not agree on where, one a line."""
    faults, first = [], ponds[0]
    for each in ponds[1:]:
        for key in ("listen", "port", "address"):
            here, there = getattr(each.page, key), getattr(first.page, key)
            if here != there:
                faults.append(
                    f"{each.path}: page.{key}: found {_quoted(here)}, {first.path} has {_quoted(there)}; expected "
                    "the same in both, since one page shows all these ponds"
                )
    if faults:
        raise SettingsError("\n".join(faults))


def _quoted(value: object) -> str:
    return "none" if value is None else f'"{value}"' if isinstance(value, str) else str(value)


def shared_broker(settings: Settings) -> MqttSettings | None:
    """The broker at which this pond shares a connection with all whose `[mqtt]` is the same; None where it has its own.

    A connection has one name at the broker, under which what was not acknowledged waits. It must not change with the
    ponds that come and go, so only a keeper can give it: `client_id`.
    """
    return settings.mqtt if settings.mqtt is not None and settings.mqtt.client_id is not None else None


def _disagreements(ponds: Sequence[Settings]) -> Iterator[str]:
    yield from _twice(ponds, "pond.name", lambda each: [device_id(each.pond.name)], "a name of its own",
                      lambda each: each.pond.name)  # fmt: skip
    yield from _twice(ponds, "store.path", lambda each: [str(inbox_path(each.store.path.absolute()))],
                      "a file of its own", lambda each: str(each.store.path))  # fmt: skip
    yield from _twice(ponds, "probes", _ports, "a port of its own; probes of two ponds on one line speak by MQTT")
    named: dict[tuple[str, int, str], Settings] = {}
    for each in ponds:
        mqtt = shared_broker(each)
        if mqtt is None or mqtt.client_id is None:
            continue
        before = named.setdefault((mqtt.host, mqtt.port, mqtt.client_id), each)
        if before.mqtt != mqtt:
            yield (
                f'{each.path}: mqtt.client_id: found "{mqtt.client_id}", which {before.path} has beside another [mqtt] '
                "for this broker; expected the whole section the same, to share its connection, or an id of its own"
            )


def _twice(
    ponds: Sequence[Settings],
    place: str,
    keys: Callable[[Settings], Sequence[str]],
    expected: str,
    shown: Callable[[Settings], str] | None = None,
) -> Iterator[str]:
    first: dict[str, Settings] = {}
    for each in ponds:
        for key in keys(each):
            before = first.setdefault(key, each)
            if before is not each:
                found = key if shown is None else shown(each)
                yield f'{each.path}: {place}: found "{found}", which {before.path} has too; expected {expected}'


def _ports(settings: Settings) -> list[str]:
    return sorted({probe.port for probe in settings.probes if probe.link in ("serial", "modbus") and probe.port})
