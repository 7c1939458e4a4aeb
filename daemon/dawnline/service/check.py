"""Checks of what the service needs, each a line: what was looked at, whether it is well, what to do.

Read-only: nothing is written to the store, no port is taken from a running service.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

from dawnline.broker import MqttSettings, client_id, connect_to, make_client
from dawnline.delivery.addresses import resolve_address
from dawnline.duration import iso, show_duration
from dawnline.errors import DawnlineError, StoreError
from dawnline.service import now_file
from dawnline.service.clock import PondClock, from_environment
from dawnline.settings import Settings
from dawnline.store.reader import Reader

BROKER_WAIT_S: Final = 6.0
LEAST_FREE_BYTES: Final = 100_000_000
EARLIEST_MS: Final = 1_735_689_600_000  # 2025-01-01: a clock before this was never set


class Line(NamedTuple):
    """One finding: `well` is None for a remark."""

    what: str
    well: bool | None
    text: str


def checks(settings: Settings) -> Iterator[Line]:
    """Every check in turn. The configuration itself has been read already."""
    yield Line(
        "configuration",
        True,
        f"{settings.path}: {len(settings.probes)} probes, {len(settings.people)} people",
    )
    yield _service(settings)
    yield from _ports(settings)
    yield from _thermometers(settings)
    if settings.mqtt is not None:
        yield _broker(settings.mqtt, settings.pond.name)
    yield from _store(settings)
    yield _clock(settings)
    yield from _people(settings)


def _service(settings: Settings) -> Line:
    data = now_file.read(settings.store.path)
    if data is None:
        return Line("service", None, "not running; `dawnline run` starts it")
    if not now_file.is_current(data):
        return Line("service", False, "has died: its last sign of life is still there; start it again")
    since = round(data["started_at"]) * 1000
    return Line("service", True, f"process {data['pid']} watches since {iso(since, settings.pond.zone)}")


def _ports(settings: Settings) -> Iterator[Line]:
    for port in dict.fromkeys(p.port for p in settings.probes if p.link in ("serial", "modbus") and p.port):
        if not port.startswith("/"):
            yield Line(f"port {port}", None, "not a device file; not looked at")
        elif not Path(port).exists():
            yield Line(
                f"port {port}",
                False,
                "there is no such device: is it plugged in? `ls -l /dev/serial/by-id` shows those there are",
            )
        elif not os.access(port, os.R_OK | os.W_OK):
            yield Line(
                f"port {port}",
                False,
                "may not be read and written by this user: add it to the group that owns it (often dialout)",
            )
        else:
            yield Line(f"port {port}", True, "there, and may be opened")


def _thermometers(settings: Settings) -> Iterator[Line]:
    for probe in (p for p in settings.probes if p.link == "onewire"):
        there = os.access(Path(probe.folder, str(probe.device), "w1_slave"), os.R_OK)
        remedy = f"not in {probe.folder}: is 1-Wire on (dtoverlay=w1-gpio)? `ls {probe.folder}` shows what is"
        yield Line(f"thermometer {probe.device}", there, "there" if there else remedy)


def _broker(mqtt: MqttSettings, pond: str) -> Line:
    """Whether the broker takes us, under a client id of its own so that no running service is thrown out."""
    what = f"broker {mqtt.host}:{mqtt.port}"
    answered = threading.Event()
    answers: list[str] = []

    def on_connect(_client: object, _data: object, _flags: object, reason: object, _properties: object) -> None:
        answers.append(str(reason))
        answered.set()

    try:
        client = make_client(mqtt, client_id=client_id(mqtt, pond, f"check-{os.getpid()}"), clean_session=True)
        client.on_connect = on_connect
        connect_to(client, mqtt)
        client.loop_start()
    except (DawnlineError, OSError) as error:
        return Line(what, False, str(error))
    answered.wait(BROKER_WAIT_S)
    client.disconnect()
    client.loop_stop()
    if not answers:
        return Line(
            what,
            False,
            f"no answer within {BROKER_WAIT_S:.0f} s: address, port, network, and TLS as the broker has it?",
        )
    return Line(what, answers[-1] == "Success", f"answers: {answers[-1]}")


def _store(settings: Settings) -> Iterator[Line]:
    path = settings.store.path
    folder = path.parent
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        yield Line("store", False, f"{folder}: no folder that this user may write to")
        return
    free = shutil.disk_usage(folder).free
    yield Line("disk", free > LEAST_FREE_BYTES, f"{free / 1e9:.1f} GB free in {folder.resolve()}")
    if not path.exists():
        yield Line("store", None, f"{path}: not there yet; the service creates it")
        return
    try:
        with Reader.open(path) as reader:
            span, outbox = reader.span(), reader.outbox()
    except StoreError as error:
        yield Line("store", False, str(error))
        return
    last = max((end for _, end in span.values()), default=None)
    yield Line(
        "store",
        True,
        f"{path}: " + ("no reading yet" if last is None else f"record up to {iso(last, settings.pond.zone)}"),
    )
    dead = outbox.counts.get("dead", 0)
    if dead:
        yield Line("outbox", False, f"{dead} notices could not be delivered; the last failure: {outbox.last_error}")


def _clock(settings: Settings) -> Line:
    now = PondClock().now()
    if now < EARLIEST_MS:
        return Line("clock", False, f"stands at {iso(now)}: it was never set; set up time synchronisation")
    last = _record_end(settings)
    if last is not None and last > now + 60_000 and from_environment().rate == 1.0:
        return Line("clock", False, f"is {show_duration(last - now)} behind the end of the record: set it")
    return Line("clock", True, iso(now, settings.pond.zone))


def _record_end(settings: Settings) -> int | None:
    try:
        with Reader.open(settings.store.path) as reader:
            return reader.cursor()
    except StoreError:
        return None


def _people(settings: Settings) -> Iterator[Line]:
    if not settings.people:
        yield Line("people", False, "nobody is configured: no alarm reaches anybody; add [[people]]")
    for person in settings.people:
        for text in person.addresses:
            try:
                resolve_address(text, settings.folder)
            except (DawnlineError, ValueError) as error:
                yield Line(f"person {person.name}", False, str(error))
            else:
                yield Line(
                    f"person {person.name}",
                    True,
                    f"{text.split('://')[0].split('?')[0]}, from {person.priority} priority on",
                )
    if settings.people and all(person.priority != "low" for person in settings.people):
        yield Line("people", None, "nobody hears of low-priority alarms")
