"""A letter to send, and a web receiver on this machine that answers as a test tells it to."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from dawnline.letter import Letter

Answer = Callable[[BaseHTTPRequestHandler], None]


@pytest.fixture
def letter() -> Letter:
    return Letter(
        key="ph-low/1780000000000/raised/Ada/mailto:ada@example.org",
        at=1_780_000_000_000,
        episode=7,
        person="Ada",
        address="mailto:ada@example.org",
        priority="high",
        subject="Heron Lane: pH 6.4 and falling",
        text="Look: are fish gasping at the surface?\nAir first.",
    )


@dataclass
class Receiver:
    """`answer` is called for each POST, once its body is read; `got` holds (path, headers, body)."""

    url: str = ""
    answer: Answer = field(default=lambda request: reply(request, 200))
    got: list[tuple[str, dict[str, str], Any]] = field(default_factory=list)


def reply(request: BaseHTTPRequestHandler, status: int, body: bytes = b"", **headers: str) -> None:
    request.send_response(status)
    for name, value in headers.items():
        request.send_header(name.replace("_", "-"), value)
    request.send_header("Content-Length", str(len(body)))
    request.end_headers()
    request.wfile.write(body)


@pytest.fixture
def answer_with() -> Callable[..., Answer]:
    """answer_with(429, b"slow down", Retry_After="120") -> an answer for the receiver."""
    return lambda status, body=b"", **headers: lambda request: reply(request, status, body, **headers)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    state = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            state.got.append((self.path, dict(self.headers), json.loads(body)))
            state.answer(self)

        def log_message(self, *_: object) -> None:
            pass

    class Server(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, *_: object) -> None:
            pass  # the tests cut connections on purpose

    server = Server(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    state.url = f"http://127.0.0.1:{server.server_address[1]}"
    yield state
    server.shutdown()
    server.server_close()
    thread.join()
