"""Whoever keeps the page waiting keeps nobody else waiting: a real server, and sockets that speak as they like."""

from __future__ import annotations

import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from .chromium import RealPond


@pytest.fixture(scope="module")
def pond(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealPond]:
    made = RealPond(tmp_path_factory.mktemp("slow"))
    made.start("page")
    yield made
    made.end()


class Slow:
    """Connections that are kept open."""

    def __init__(self, pond: RealPond) -> None:
        self.pond, self.open = pond, list[socket.socket]()

    def say(self, words: bytes, times: int = 1) -> None:
        for _ in range(times):
            one = socket.create_connection(("127.0.0.1", self.pond.port), timeout=15)
            self.open.append(one)
            with suppress(OSError):
                one.sendall(words)

    def end(self) -> None:
        for one in self.open:
            one.close()


@pytest.fixture
def slow(pond: RealPond) -> Iterator[Slow]:
    made = Slow(pond)
    yield made
    made.end()


HOST = b"Host: 127.0.0.1\r\n"
BEGUN = b"GET / HTTP/1.1\r\n" + HOST
NO_BODY = b"POST /sign-in HTTP/1.1\r\n" + HOST + b"Content-Length: 999\r\n\r\n"


@pytest.mark.parametrize("words", [b"", BEGUN, NO_BODY, b"GET /sign-in HTTP/1.1\r\n" + HOST + b"\r\nGET /"])
def test_sixty_at_once_shut_nobody_out(pond: RealPond, slow: Slow, words: bytes) -> None:
    slow.say(words, 60)
    for _ in range(3):
        assert pond.answers()


def test_who_hangs_up_in_the_midst_of_a_form_is_no_fault_and_the_end_is_a_good_one(tmp_path: Path) -> None:
    pond = RealPond(tmp_path)
    pond.start("page")
    process = pond.running["page"]
    for _ in range(5):
        one = socket.create_connection(("127.0.0.1", pond.port), timeout=15)
        one.sendall(NO_BODY + b"a")
        time.sleep(0.05)
        one.close()
    assert pond.answers()
    pond.end()
    assert process.returncode == 0
    said = (tmp_path / "page.log").read_text()
    assert "Traceback" not in said


def closed(one: socket.socket) -> bytes:
    """All that is said until the connection is closed."""
    heard = b""
    with suppress(ConnectionError):
        while more := one.recv(4096):
            heard += more
    return heard


@pytest.mark.slow
def test_a_head_or_a_body_that_drips_is_closed_on(slow: Slow) -> None:
    second = b"GET /sign-in HTTP/1.1\r\n" + HOST + b"\r\nGET / HTTP/1.1\r\n"
    for words in (BEGUN, NO_BODY, second):
        slow.say(words)
    dripping = list(slow.open)
    for _ in range(60):
        for one in list(dripping):
            try:
                one.sendall(b"X")
            except OSError:
                dripping.remove(one)
        if not dripping:
            break
        time.sleep(0.5)
    assert not dripping


def test_what_is_too_large_is_refused(slow: Slow) -> None:
    slow.say(b"POST /sign-in HTTP/1.1\r\n" + HOST + b"Connection: close\r\nContent-Length: 99999999\r\n\r\n")
    assert b" 413 " in closed(slow.open[0])
    slow.say(b"GET /" + b"a" * 5000 + b" HTTP/1.1\r\nConnection: close\r\n" + HOST + b"\r\n")
    assert b" 414 " in closed(slow.open[1])
    slow.say(BEGUN + b"X: " + b"a" * 40_000)
    assert b" 400 " in closed(slow.open[2])


def test_a_body_without_a_length_has_an_end(slow: Slow) -> None:
    slow.say(b"POST /sign-in HTTP/1.1\r\n" + HOST + b"Connection: close\r\nTransfer-Encoding: chunked\r\n\r\n")
    with suppress(OSError):
        for _ in range(20):
            slow.open[0].sendall(b"1000\r\n" + b"a" * 4096 + b"\r\n")
    assert b" 413 " in closed(slow.open[0])


def wakings(pid: int) -> int:
    """How often the threads of a process have gone to sleep so far."""
    found = 0
    for thread in Path(f"/proc/{pid}/task").iterdir():
        lines = (thread / "status").read_text().splitlines()
        found += next(int(line.split()[1]) for line in lines if line.startswith("voluntary_ctxt_switches"))
    return found


def test_nobody_looks_and_it_sleeps(pond: RealPond) -> None:
    assert pond.answers()
    pid = pond.running["page"].pid
    time.sleep(1)
    before = wakings(pid)
    time.sleep(4)
    assert wakings(pid) - before <= 4


def test_the_port_is_taken(pond: RealPond) -> None:
    second = subprocess.run(pond.words("page"), capture_output=True, text=True, env=pond.environment, check=False)
    assert second.returncode == 2
    assert f"port {pond.port}" in second.stderr
    assert "another page" in second.stderr
    assert "Traceback" not in second.stderr
    assert pond.answers()
