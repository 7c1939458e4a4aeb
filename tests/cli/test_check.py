"""`dawnline check`: each thing that is not well is found, and named with what to do."""

from __future__ import annotations

import os
import re
import socket
import subprocess
from pathlib import Path
from typing import Any

import pytest

from .checked import PERSON, not_well, on, says


def test_all_well(configure: Any, call: Any, terminal: Path) -> None:
    configure(PERSON.format('["console:"]'), probes=on(terminal))
    found = call("check")
    assert (found.status, found.err, not_well(found)) == (0, "", [])
    assert f"well      port {terminal}: there" in found.out


@pytest.mark.parametrize(
    ("longitude", "timezone", "hours"),
    [
        (87.6, "America/Chicago", 11), (174.8, "UTC", 12),  # a sign forgotten, the zone of a machine
        *((76.0, "Asia/Shanghai", 0), (172.9, "America/Adak", 0), (-157.4, "Pacific/Kiritimati", 0)),
        *((-21.9, "UTC", 0), (-74.0, "UTC", 0), (-176.6, "Pacific/Chatham", 0), (180.0, "Pacific/Fiji", 0)),
    ],
)  # fmt: skip
def test_a_clock_far_from_the_sun_of_its_longitude(
    longitude: float, timezone: str, hours: int, folder: Path, call: Any
) -> None:
    path = folder / "dawnline.toml"
    text = re.sub("longitude = .*", f"longitude = {longitude}", path.read_text(encoding="utf-8"))
    path.write_text(re.sub("timezone = .*", f'timezone = "{timezone}"', text), encoding="utf-8")
    out = call("check").out
    assert (f"is {hours} hours from the sun's" in out) == bool(hours)


def test_a_port_that_is_not_there(call: Any) -> None:
    assert says(call("check"), "port /dev/no-such-port: there is no such device", "ls -l /dev/serial/by-id")


def test_a_port_that_is_no_device(folder: Path, configure: Any, call: Any) -> None:
    configure(probes=on(folder / "dawnline.toml"))
    assert says(call("check"), "dawnline.toml: is no serial port", "/dev/serial/by-id")


def test_a_port_without_its_folder(configure: Any, call: Any) -> None:
    configure(probes=on(Path("ttyUSB0")))
    assert says(call("check"), "port ttyUSB0: no device has this name", "such as /dev/ttyUSB0")


def test_one_port_under_two_names(folder: Path, configure: Any, call: Any, terminal: Path) -> None:
    (folder / "by-id").symlink_to(terminal)
    other = on(folder / "by-id").replace('name = "ph"', 'name = "ph2"')
    configure(PERSON.format('["console:"]'), probes=on(terminal) + other)
    assert says(call("check"), f"port {folder / 'by-id'}: is {terminal} by another name", "one name everywhere")


def test_a_probe_that_was_renamed(configure: Any, call: Any, terminal: Path, replay: Any) -> None:
    configure(PERSON.format('["console:"]'), probes=on(terminal))
    replay("time,ph\n2026-06-09T12:00:00+02:00,7.1\n", "--store", "pond.db")
    assert "which no probe is called now" not in call("check").out
    configure(PERSON.format('["console:"]'), probes=on(terminal).replace('"ph"\nq', '"glass"\nq'))
    found = call("check")
    assert found.status == 0
    assert "remark    store: the record has ph, which no probe is called now: a probe under a new name" in found.out


def test_a_probe_that_measures_something_else_now(configure: Any, call: Any, terminal: Path, replay: Any) -> None:
    configure(PERSON.format('["console:"]'), probes=on(terminal))
    replay("time,ph\n2026-06-09T12:00:00+02:00,7.1\n", "--store", "pond.db")
    configure(PERSON.format('["console:"]'), probes=on(terminal).replace('= "ph"\nl', '= "electrode_mv"\nl'))
    assert says(call("check"), "pond.db: probe 'ph' has readings of ph here, and is configured as electrode_mv")


@pytest.mark.parametrize(("register", "says_it"), [("40001", "Then it is 0 here"), ("0", None)])
def test_a_register_as_the_manual_numbers_it(
    configure: Any, call: Any, terminal: Path, register: str, says_it: str | None
) -> None:
    more = f"unit = 1\nregister = {register}\n"
    configure(PERSON.format('["console:"]'), probes=on(terminal).replace('"serial"', '"modbus"') + more)
    found = call("check")
    assert found.status == 0, found.out + found.err
    assert ("remark    probe ph: register = 40001" in found.out) is (says_it is not None)
    assert says_it is None or says_it in found.out


def test_a_port_of_another_user(configure: Any, call: Any, terminal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    really = os.access
    monkeypatch.setattr(
        os, "access", lambda path, mode: Path(path) != terminal or (mode == os.F_OK and really(path, mode))
    )
    configure(probes=on(terminal))
    assert says(call("check"), f"port {terminal}: may not be read and written", "dialout")


@pytest.mark.parametrize(
    ("more", "parts"),
    [
        ('token = "file:none"\n', ["central store 127.0.0.1:PORT", "cannot read", "(No such file or directory)"]),
        ("", ["central store 127.0.0.1:PORT: nothing listens there"]),
    ],
)
def test_a_central_store_that_is_not_to_be_had(
    configure: Any, call: Any, more: str, parts: list[str], deaf_port: int
) -> None:
    configure(f'[influxdb]\nurl = "http://127.0.0.1:{deaf_port}/api"\nbucket = "ponds"\n{more}')
    assert says(call("check"), *(part.replace("PORT", str(deaf_port)) for part in parts))


def broker(port: int, more: str = "") -> str:
    return f'[mqtt]\nhost = "127.0.0.1"\nport = {port}\n{more}'


def test_a_broker_that_is_away(configure: Any, call: Any, deaf_port: int) -> None:
    configure(broker(deaf_port))
    assert says(call("check"), f"broker 127.0.0.1:{deaf_port}: nothing listens there", "is the port right")


def test_a_broker_whose_password_is_not_to_be_had(configure: Any, call: Any) -> None:
    configure(broker(1, 'username = "dawn"\npassword = "env:NO_SUCH_PASSWORD"\n'))
    assert says(call("check"), "broker 127.0.0.1:1", "no variable NO_SUCH_PASSWORD")


def test_somebody_who_is_no_broker(configure: Any, call: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dawnline.service.check.BROKER_WAIT_S", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        configure(broker(port))
        assert says(call("check"), f"broker 127.0.0.1:{port}: somebody listens, but answers no MQTT", "TLS")


def test_the_broker_is_asked(folder: Path, configure: Any, call: Any, mosquitto: Any) -> None:
    ours = mosquitto(password=("dawn", "secret"))
    (folder / "good").write_text("secret", encoding="utf-8")
    (folder / "bad").write_text("wrong", encoding="utf-8")
    configure(broker(ours.port, 'username = "dawn"\npassword = "file:good"\n'))
    assert f"well      broker 127.0.0.1:{ours.port}: takes us" in call("check").out
    configure(broker(ours.port, 'username = "dawn"\npassword = "file:bad"\n'))
    assert says(call("check"), f"broker 127.0.0.1:{ours.port}: does not take us", "`password` in [mqtt]")


def test_a_broker_with_a_certificate_of_its_own(configure: Any, call: Any, mosquitto: Any) -> None:
    ours = mosquitto(tls=True)
    configure(f'[mqtt]\nhost = "localhost"\nport = {ours.port}\ntls = true\nca_file = "{ours.ca_file}"\n')
    assert f"well      broker localhost:{ours.port}: takes us" in call("check").out
    configure('[mqtt]\nhost = "localhost"\ntls = true\nca_file = "no-such-file"\n')
    assert says(call("check"), "broker localhost:8883", "[mqtt] ca_file: expected PEM certificates")


def test_a_folder_that_is_not_there(folder: Path, call: Any) -> None:
    config = folder / "dawnline.toml"
    config.write_text(config.read_text().replace("pond.db", "nowhere/pond.db"), encoding="utf-8")
    assert says(call("check"), "store: there is no folder nowhere", "[store] path")


def test_a_store_of_another_user(call: Any, replay: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    replay("time,ph\n2026-06-08T00:00Z,7.1\n", "--store", "pond.db")
    really = os.access
    for closed, text in (("pond.db", "may not write pond.db"), (".", "may not write to .")):
        monkeypatch.setattr(
            os,
            "access",
            lambda path, mode, closed=closed: str(path) != closed or (mode == os.F_OK and really(path, mode)),
        )
        assert says(call("check"), f"store: this user {text}", "the service's own user")


@pytest.mark.parametrize("where", [0, 3000], ids=["head", "middle"])
def test_a_damaged_store(folder: Path, replay: Any, call: Any, where: int) -> None:
    rows = "".join(f"2026-06-08T{h:02d}:{m:02d}Z,7.{m % 7}\n" for h in range(24) for m in range(60))
    replay("time,ph\n" + rows, "--store", "pond.db")
    assert "well      store: pond.db: record up to 2026-06-09T01:59:00+02:00" in call("check").out
    data = bytearray((folder / "pond.db").read_bytes())
    data[where : where + 8000] = bytes(8000)
    (folder / "pond.db").write_bytes(data)
    found = call("check")
    assert says(found, "store: store pond.db:", "move it away")
    assert found.err == ""


def test_a_file_that_is_no_store(folder: Path, call: Any) -> None:
    (folder / "pond.db").write_text("no database\n" * 100, encoding="utf-8")
    assert says(call("check"), "store pond.db: it is no SQLite database", "give another path")


def test_it_changes_nothing(folder: Path, replay: Any, call: Any) -> None:
    replay("time,ph\n2026-06-08T00:00Z,7.1\n", "--store", "pond.db")
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    call("check")
    after = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    assert {name: data for name, data in after.items() if not name.endswith(("-wal", "-shm"))} == before


def test_a_clock_that_was_never_set(call: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dawnline.service.clock.PondClock.now", lambda _: 946_684_800_000)
    assert says(call("check"), "clock: stands at 2000-01-01", "never set", "time synchronisation")


def test_a_record_ahead_of_the_clock(call: Any, replay: Any) -> None:
    replay("time,ph\n2099-06-08T00:00Z,7.1\n", "--store", "pond.db")
    assert says(call("check"), "clock: is", "behind the end of the record: set it")


def test_a_service_that_died(folder: Path, call: Any) -> None:
    from dawnline.service.now_file import NowFile

    gone = subprocess.Popen(["true"])
    gone.wait()
    NowFile(Path("pond.db")).write({"pid": gone.pid, "written_at": 1.0, "started_at": 1.0})
    assert says(call("check"), "service: has died", "start it again")
