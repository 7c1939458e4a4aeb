"""The server process: listens, and closes on whoever keeps it waiting."""

from __future__ import annotations

import asyncio
import ctypes
import os
import signal
import socket
from collections.abc import Awaitable, Callable
from contextlib import suppress
from types import FrameType
from typing import Any, Final

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from dawnline.errors import SettingsError
from dawnline.page.app import Site
from dawnline.systemd import notify, patience_s

HEAD_S: Final = 8.0  # for the head of a request
BACKLOG: Final = 128  # connections that wait to be taken
M_MMAP_THRESHOLD: Final = -3  # malloc.h
LARGE_PIECE: Final = 1 << 20  # bytes
AT_ONCE: Final = 40  # connections; one page draws itself with three


class Door(H11Protocol):
    """A connection that must say what it wants in time, and makes room for others while it has not."""

    def connection_made(self, transport: Any) -> None:
        """Somebody has connected."""
        super().connection_made(transport)
        self._patience = self.loop.call_later(HEAD_S, self._close)
        self._came = self.loop.time()
        # One that was closed on stays among the connections until the loop's next round: it makes no room by itself.
        here = [each for each in self.connections if isinstance(each, Door) and not each.transport.is_closing()]
        waiting = [each for each in here if each.we_wait]
        if len(here) > AT_ONCE and waiting:
            min(waiting, key=lambda each: each._came)._close()

    @property
    def we_wait(self) -> bool:
        """Whether it is for them to speak: nothing asked yet, a request half said, or all of it answered."""
        return self.cycle is None or self.cycle.response_complete or self.conn.their_state is h11.SEND_BODY

    def data_received(self, data: bytes) -> None:
        """They speak; what is not a whole head within its time after the last answer is closed on."""
        asked = self.cycle
        super().data_received(data)
        if self.cycle is not asked:
            self._patience.cancel()

    def on_response_complete(self) -> None:
        """All is answered: the next request has its own time."""
        super().on_response_complete()
        self._patience.cancel()
        self._patience = self.loop.call_later(self.timeout_keep_alive + HEAD_S, self._close)

    def _close(self) -> None:
        if self.we_wait and not self.transport.is_closing():
            self.transport.abort()

    def connection_lost(self, exc: Exception | None) -> None:
        """It is gone."""
        self._patience.cancel()
        super().connection_lost(exc)


class Quiet(uvicorn.Server):
    """Sleeps while nobody asks; the library's own loop wakes ten times a second to see whether it is to stop."""

    def __init__(self, config: uvicorn.Config, turns: Callable[[], Awaitable[None]]) -> None:
        """`turns` comes back where what draws the pages still does."""
        super().__init__(config)
        self._turns = turns

    async def main_loop(self) -> None:
        """Wait to be told to stop; meanwhile systemd's watchdog, if there is one, hears that pages are drawn."""
        self._told, self._loop = asyncio.Event(), asyncio.get_running_loop()
        await self.on_tick(0)
        notify("READY=1")
        patience = patience_s()
        pulse = None if patience is None else asyncio.create_task(self._pulse(patience / 3))
        if not self.should_exit:
            await self._told.wait()
        if pulse is not None:
            pulse.cancel()
        notify("STOPPING=1")

    async def _pulse(self, every_s: float) -> None:
        while True:
            await self._turns()
            notify("WATCHDOG=1")
            await asyncio.sleep(every_s)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """SIGINT or SIGTERM."""
        super().handle_exit(sig, frame)
        if hasattr(self, "_told"):
            self._loop.call_soon_threadsafe(self._told.set)


def serve(site: Site, listening: socket.socket) -> None:
    """Serve until SIGINT or SIGTERM."""
    _give_back_large_pieces()
    page = site.page
    config = uvicorn.Config(
        site.app(), host=page.listen, port=page.port, http=Door, ws="none", lifespan="off", loop="asyncio",
        access_log=False, log_level="error", server_header=False, date_header=False, limit_concurrency=2 * AT_ONCE,
        timeout_keep_alive=6, timeout_graceful_shutdown=3, h11_max_incomplete_event_size=16 * 1024,
        proxy_headers=False,
    )  # fmt: skip
    # The server raises what stopped it once more when all is closed: an end that was asked for is a good one.
    signal.signal(signal.SIGTERM, lambda _number, _frame: None)
    Quiet(config, site.turns).run(sockets=[listening])


def _give_back_large_pieces() -> None:
    """Have the C library return large pieces of memory as soon as they are free, mallopt(3): the first that it had to
    map would otherwise teach it to keep pieces of that size, and each hash of a passphrase takes 16 MB.
    """
    with suppress(AttributeError, OSError):  # another C library
        ctypes.CDLL(None).mallopt(M_MMAP_THRESHOLD, LARGE_PIECE)


def listen(address: str, port: int) -> socket.socket:
    """A socket at this address. Raises SettingsError where it is not to be had."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    try:
        return socket.create_server((address, port), family=family, backlog=BACKLOG)
    except OSError as error:
        raise SettingsError(
            f"[page]: cannot listen at {address}, port {port} ({os.strerror(error.errno or 0)}): another program, or "
            "another page, may have it; set another `port`"
        ) from None
