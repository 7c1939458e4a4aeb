"""What goes wrong around the service: files, folders, ports, brokers. It says so, and loses nothing else."""

from __future__ import annotations

import resource
import shutil
import socket
from collections.abc import Callable
from typing import Any

import pytest

Eventually = Callable[..., None]


def test_a_second_service_on_the_same_store_is_refused(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: "watching" in pond.log, "watching")
    second = pond.command("run")
    assert second.returncode == 1
    assert "pond.db" in second.stderr
    assert "Traceback" not in second.stderr


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"this is no database, but a text of some length" * 30, "pond.db"), (b"x", "pond.db")],
)
def test_a_file_that_is_no_store(make_pond: Callable[..., Any], content: bytes, says: str) -> None:
    pond = make_pond()
    (pond.folder / "pond.db").write_bytes(content)
    found = pond.command("run")
    assert found.returncode == 1
    assert says in found.stderr
    assert "Traceback" not in found.stderr
    assert (pond.folder / "pond.db").read_bytes() == content


def test_a_store_damaged_in_the_middle_is_set_aside_and_the_watch_goes_on(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: "watching" in pond.log, "watching")
    assert pond.stop() == 0
    store = pond.folder / "pond.db"
    content = bytearray(store.read_bytes())
    content[3 * 1024 : 6 * 1024] = b"\xa5" * 3072
    store.write_bytes(content)
    before = pond.log.count("watching")
    pond.start()
    eventually(lambda: pond.log.count("watching") > before, "watching with a new store")
    aside = list(pond.folder.glob("pond.damaged-*.db"))
    assert [each.read_bytes() for each in aside] == [content]
    assert "set aside" in pond.log
    assert "Traceback" not in pond.log
    assert str(aside[0]) in pond.command("status").stdout
    assert pond.stop() == 0


def test_a_damaged_inbox_does_not_end_the_watch(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    (pond.folder / "pond.inbox.db").write_bytes(b"garbage " * 200)
    pond.plug()
    pond.start()
    eventually(lambda: "connected" in pond.log, "connected")
    pond.say(b"\nph=7.12\n")
    eventually(lambda: pond.status().get("probes", {}).get("ph", {}).get("value") == 7.12, "a reading")
    assert pond.log.count("inbox-unusable") == 1
    told = pond.command("logbook", "add", "note", "note=herons")
    assert told.returncode == 1
    assert "pond.inbox.db: it is no SQLite database" in told.stderr
    assert pond.stop() == 0


def test_a_folder_that_is_not_there(make_pond: Callable[..., Any]) -> None:
    pond = make_pond()
    pond.config.write_text(pond.config.read_text().replace('"pond.db"', '"nowhere/pond.db"'), encoding="utf-8")
    found = pond.command("run")
    assert found.returncode == 1
    assert "check that the folder exists" in found.stderr
    assert "Traceback" not in found.stderr


def test_a_disk_that_takes_no_more_ends_nothing(make_pond: Callable[..., Any], eventually: Eventually) -> None:
    pond = make_pond()
    pond.plug()
    service = pond.start(DAWNLINE_CLOCK_RATE="600")
    eventually(lambda: "connected" in pond.log, "connected")
    resource.prlimit(service.pid, resource.RLIMIT_FSIZE, (100_000, 200_000))
    said = []

    def refused() -> bool:
        said.append(f"{7 + len(said) * 1e-6:.6f}")
        pond.say(f"ph={said[-1]} temp=18.1\n".encode())
        return "store-failing" in pond.log

    eventually(refused, "a refusal")
    eventually(lambda: "check the card" in pond.command("status").stdout, "words in status")
    resource.prlimit(service.pid, resource.RLIMIT_FSIZE, (200_000, 200_000))
    eventually(lambda: "store-well-again" in pond.log, "all written")
    assert pond.stop() == 0
    assert "Traceback" not in pond.log
    found = pond.command("readings", "--csv", str(pond.folder / "out.csv"))
    assert found.returncode == 0
    text = (pond.folder / "out.csv").read_text(encoding="utf-8")
    assert [value for value in said if value.rstrip("0") not in text] == []


def test_without_its_port_the_service_watches_and_silence_is_an_alarm(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    pond = make_pond()
    pond.start(DAWNLINE_CLOCK_RATE="3600")
    eventually(lambda: [a["alarm"] for a in pond.status().get("alarms", [])] == ["no-data"] * 2, "no-data of both")
    assert pond.status()["links"][0]["state"] == "waiting"
    assert pond.stop() == 0


def test_the_runtime_folder_swept_away_does_not_end_the_watch(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    pond = make_pond()
    pond.start()
    eventually(lambda: pond.status().get("links"), "the first present")
    shutil.rmtree(pond.folder / "runtime")
    eventually(lambda: pond.status().get("running"), "a present again")
    assert pond.stop() == 0


def hole() -> tuple[list[socket.socket], int]:
    """Sockets, and a port whose queue is full: who connects there waits, as on a network that drops everything."""
    listener = socket.create_server(("127.0.0.1", 0), backlog=0)
    port: int = listener.getsockname()[1]
    sockets = [listener]
    for _ in range(4):
        caller = socket.socket()
        caller.setblocking(False)
        caller.connect_ex(("127.0.0.1", port))
        sockets.append(caller)
    return sockets, port


def test_a_broker_that_swallows_everything_keeps_no_stop_from_ending(
    make_pond: Callable[..., Any], eventually: Eventually
) -> None:
    sockets, port = hole()
    probe = '[[probes]]\nname = "deep"\nquantity = "ph"\nlink = "mqtt"\ntopic = "pond/deep"\n'
    pond = make_pond(f'[mqtt]\nhost = "127.0.0.1"\nport = {port}\n{probe}')
    try:
        pond.start()
        eventually(lambda: "watching" in pond.log, "watching")
        assert pond.stop() == 0  # while that port still says nothing
    finally:
        for each in sockets:
            each.close()
    assert "Traceback" not in pond.log
