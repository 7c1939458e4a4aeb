"""A web server of a test's own."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class Handler(BaseHTTPRequestHandler):
    """Answers as a test says in `asked`, and keeps no log."""

    def do_GET(self) -> None:
        self.asked()

    do_POST = do_GET  # noqa: N815

    def asked(self) -> None:
        """By GET or by POST."""
        raise NotImplementedError

    def body(self) -> bytes:
        """What was sent."""
        return self.rfile.read(int(self.headers["Content-Length"]))

    def answer(self, status: int, body: bytes = b"", **headers: str) -> None:
        """Send it."""
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        pass


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, *_: object) -> None:
        pass  # tests cut connections on purpose


@contextmanager
def serving(handler: type[Handler]) -> Iterator[str]:
    """Its address, such as http://127.0.0.1:40123, while it serves."""
    server = _Server(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
