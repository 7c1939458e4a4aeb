"""Checks of what the service needs, each a line: what was looked at, whether it is well, what to do.

Read-only: nothing is written to the store, no port is taken from a running service.
"""

from __future__ import annotations

import os
import shutil
import socket
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from dawnline.broker import MqttSettings, client_id, connect_to, make_client
from dawnline.duration import DAY_MS, MINUTE_MS, iso, show_duration
from dawnline.errors import DawnlineError, StoreError
from dawnline.secret import Secret
from dawnline.service import check_people, now_file
from dawnline.service.check_line import Line
from dawnline.service.clock import from_environment
from dawnline.service.clock_trust import judge
from dawnline.service.machine import Machine
from dawnline.settings import Settings
from dawnline.store.connection import open_reader, quick_check
from dawnline.store.failure import explained
from dawnline.store.outbox import GIVEN_UP_SHOWN_MS, SHOWN
from dawnline.store.probes import known_ids
from dawnline.store.reader import Reader

CONNECT_S: Final = 5.0
BROKER_WAIT_S: Final = 6.0
LEAST_FREE_BYTES: Final = 100_000_000
STRANGE_MS: Final = 30 * DAY_MS  # for so long a probe that is gone is spoken of
MOST_FROM_THE_SUN_H: Final = 5  # the clocks of western China and of the Aleutians are three hours from it


def checks(settings: Settings) -> Iterator[Line]:
    """Every check in turn. The configuration itself has been read already."""
    yield Line("configuration", True, f"{settings.path}: probes: {', '.join(p.name for p in settings.probes)}")
    yield from _place(settings)
    yield _service(settings)
    yield from _ports(settings)
    yield from _registers(settings)
    yield from _thermometers(settings)
    if settings.mqtt is not None:
        yield _broker(settings.mqtt, settings.pond.name)
    if settings.mail is not None:
        # Whether it takes a letter, `--notify` shows.
        yield _server(
            f"mail server {settings.mail.host}", settings.mail.host, settings.mail.port, settings.mail.password
        )
    if settings.influxdb is not None:
        url = urlsplit(settings.influxdb.url)
        host, port = url.hostname or "", url.port or (443 if url.scheme == "https" else 80)
        yield _server(f"central store {host}", host, port, settings.influxdb.token)
    yield from _store(settings)
    yield _clock(settings)
    yield from check_people.people(settings, from_environment().now())
    yield from check_people.heartbeat(settings)
    yield from check_people.links(settings)
    yield from check_people.weekly(settings)


def _place(settings: Settings) -> Iterator[Line]:
    apart = settings.pond.hours_from_the_sun
    if apart > MOST_FROM_THE_SUN_H:
        yield Line(
            "place",
            False,
            f"the clock of {settings.pond.timezone} is {apart:.0f} hours from the sun's at a longitude of "
            f"{settings.pond.longitude:g}, so that midnight cuts the night from its dawn: give the pond's own zone, "
            "and degrees east of Greenwich, negative to the west of it",
        )


def _service(settings: Settings) -> Line:
    data = now_file.read(settings.store.path)
    if data is None:
        return Line("service", None, "not running; `dawnline run` starts it")
    if not now_file.is_current(data):
        return Line("service", False, "has died: its last sign of life is still there; start it again")
    since = round(data.get("started_at", data["written_at"])) * 1000
    return Line("service", True, f"process {data['pid']} watches since {iso(since, settings.pond.zone)}")


def _ports(settings: Settings) -> Iterator[Line]:
    devices: dict[str, str] = {}  # by their real names
    for port in dict.fromkeys(p.port for p in settings.probes if p.link in ("serial", "modbus") and p.port):
        what = f"port {port}"
        if "://" in port:
            yield Line(what, None, "not a device file; not looked at")
        elif not port.startswith("/"):
            yield Line(what, False, f"no device has this name: write its whole path, such as /dev/{Path(port).name}")
        elif not os.access(port, os.F_OK):
            gone = "there is no such device: is it plugged in? `ls -l /dev/serial/by-id` shows those there are"
            yield Line(what, False, gone)
        elif not Path(port).is_char_device():
            yield Line(what, False, "is no serial port: give one of those that `ls -l /dev/serial/by-id` shows")
        elif not os.access(port, os.R_OK | os.W_OK):
            closed = "may not be read and written by this user: add it to the group that owns it (often dialout)"
            yield Line(what, False, closed)
        elif (first := devices.setdefault(os.path.realpath(port), port)) != port:
            yield Line(what, False, f"is {first} by another name, and only one may open it: write one name everywhere")
        else:
            yield Line(what, True, "there, and may be opened")


def _registers(settings: Settings) -> Iterator[Line]:
    """Registers as a manual numbers them, from 40001 or 30001 on: over the wire they count from 0."""
    for probe in settings.probes:
        for first in (40_001, 30_001):
            if probe.link == "modbus" and probe.register is not None and first <= probe.register < first + 9_999:
                said = f"register = {probe.register} counts from 0: is it the manual's number? Then it is"
                yield Line(f"probe {probe.name}", None, f"{said} {probe.register - first} here")


def _thermometers(settings: Settings) -> Iterator[Line]:
    for probe in (p for p in settings.probes if p.link == "onewire"):
        there = os.access(Path(probe.folder, str(probe.device), "w1_slave"), os.R_OK)
        remedy = f"not in {probe.folder}: is 1-Wire on (dtoverlay=w1-gpio)? `ls {probe.folder}` shows what is"
        yield Line(f"thermometer {probe.device}", there, "there" if there else remedy)


def _unreachable(host: str, port: int) -> str | None:
    """Why nobody answers at this address; None where somebody does."""
    try:
        with socket.create_connection((host, port), timeout=CONNECT_S):
            return None
    except socket.gaierror as error:
        return f"the name {host} leads nowhere ({error.strerror}): is it right, and is the network up?"
    except ConnectionRefusedError:
        return "nothing listens there: does the program run, and is the port right?"
    except TimeoutError:
        return f"no answer within {CONNECT_S:.0f} s: is the address right, and does a firewall stand between?"
    except OSError as error:
        return f"cannot be reached ({error.strerror or error}): are address and network right?"


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
    except DawnlineError as error:
        return Line(what, False, str(error))
    why = _unreachable(mqtt.host, mqtt.port)
    if why is not None:
        return Line(what, False, why)
    client.on_connect = on_connect
    connect_to(client, mqtt)
    client.loop_start()
    answered.wait(BROKER_WAIT_S)
    client.disconnect()
    client.loop_stop()
    if not answers:
        return Line(what, False, "somebody listens, but answers no MQTT: is it a broker, and is its TLS as in [mqtt]?")
    if answers[-1] == "Success":
        return Line(what, True, "takes us")
    return Line(what, False, f"does not take us ({answers[-1]}): see `username` and `password` in [mqtt]")


def _server(what: str, host: str, port: int, secret: Secret | None) -> Line:
    """Whether a server is there and the secret for it known."""
    what = f"{what}:{port}"
    try:
        if secret is not None:
            secret.reveal()
    except DawnlineError as error:
        return Line(what, False, str(error))
    why = _unreachable(host, port)
    return Line(what, why is None, why or "answers")


def _store(settings: Settings) -> Iterator[Line]:
    path = settings.store.path
    folder = path.parent
    if not (os.access(folder, os.F_OK) and folder.is_dir()):
        yield Line(
            "store", False, f"there is no folder {folder} that this user may look into: make it, or change [store] path"
        )
        return
    if not os.access(folder, os.W_OK):
        yield Line("store", False, f"this user may not write to {folder}: run this as the service's own user")
        return
    free = shutil.disk_usage(folder).free
    enough = free > LEAST_FREE_BYTES
    yield Line("disk", enough, f"{free / 1e9:.1f} GB free in {folder.resolve()}" + ("" if enough else ": make room"))
    if not path.exists():
        yield Line("store", None, f"{path}: not there yet; the service creates it")
    elif not os.access(path, os.R_OK | os.W_OK):
        yield Line("store", False, f"this user may not write {path}: run this as the service's own user")
    else:
        yield from _record(path, settings)


def _record(path: Path, settings: Settings) -> Iterator[Line]:
    """The whole file is read for damage, as the service does at its start."""
    try:
        with explained(path), closing(open_reader(path)) as db:
            quick_check(db)
            known_ids(db, [(probe.name, probe.quantity) for probe in settings.probes])
        with Reader.open(path) as reader:
            span = reader.span()
            dead = reader.given_up(from_environment().now() - GIVEN_UP_SHOWN_MS, SHOWN)
    except StoreError as error:
        yield Line("store", False, str(error))
        return
    last = max((end for _, end in span.values()), default=None)
    ends = "no reading yet" if last is None else f"record up to {iso(last, settings.pond.zone)}"
    yield Line("store", True, f"{path}: {ends}")
    named = {probe.name for probe in settings.probes}
    lately = [name for name, (_, end) in span.items() if name not in named and end >= (last or 0) - STRANGE_MS]
    if lately:
        begins = "a probe under a new name begins anew, without calibration and nights. Under its old one it goes on"
        remedy = f"{begins}, or under the new one after `dawnline store rename {lately[0]} NEW`, the service stopped"
        yield Line("store", None, f"the record has {', '.join(lately)}, which no probe is called now: {remedy}")
    if dead:
        newest = dead[-1]
        number = f"{len(dead)} or more letters" if len(dead) == SHOWN else f"{len(dead)} letter{'s' * (len(dead) > 1)}"
        yield Line(
            "outbox",
            False,
            f"{number} of the last seven days could not be delivered, the last one to {newest.person} "
            f"({iso(newest.at, settings.pond.zone)}): {newest.why}. `check --notify` shows whether messages arrive "
            "now; seven days after the last one this line goes by itself",
        )


def _clock(settings: Settings) -> Line:
    clock, machine = from_environment(), Machine(settings.clock.mark)
    now = clock.now()
    shown = iso(now - now % 1000, settings.pond.zone)
    if clock.scaled:
        return Line("clock", True, shown)
    last, known = _record_end(settings, machine.boot())
    found = judge(machine, settings.clock.trust, now, last)
    if last is not None and last > now + MINUTE_MS:
        return Line("clock", False, f"is {show_duration(last - now)} behind the end of the record: set it")
    if found.known or known:
        return Line("clock", True, f"{shown}, {found.why if found.known else 'set earlier since this machine started'}")
    remedy = "wait for time synchronisation, or set it by hand; until then times are provisional"
    return Line("clock", False, f"stands at {shown} and is not known to be set: {found.why}; {remedy}")


def _record_end(settings: Settings, boot: str) -> tuple[int | None, bool]:
    """Where the dated record ends [ms], and whether the clock was known to be set earlier in this boot."""
    try:
        with Reader.open(settings.store.path) as reader:
            stretch = reader.stretch()
            return (reader.cursor() if stretch is None else stretch.since - 1), reader.clock_set() == boot
    except StoreError:
        return None, False
