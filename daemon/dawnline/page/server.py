"""The server process: listens, and closes on whoever keeps it waiting."""

from __future__ import annotations

import signal
from typing import Any, Final

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from dawnline.page.app import Site

HEAD_S: Final = 8.0  # for the head of a request
AT_ONCE: Final = 40  # connections; one page draws itself with three


class Door(H11Protocol):
    """A connection that must say what it wants in time, and makes room for others while it has not."""

    def connection_made(self, transport: Any) -> None:
        """Somebody has connected."""
        super().connection_made(transport)
        self._patience = self.loop.call_later(HEAD_S, self._close)
        self._came = self.loop.time()
        waiting = [each for each in self.connections if isinstance(each, Door) and each.we_wait]
        if len(self.connections) > AT_ONCE and waiting:
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


def serve(site: Site) -> None:
    """Serve until SIGINT or SIGTERM."""
    page = site.doors.settings.page
    config = uvicorn.Config(
        site.app(), host=page.listen, port=page.port, http=Door, ws="none", lifespan="off", loop="asyncio",
        access_log=False, log_level="error", server_header=False, date_header=True, limit_concurrency=2 * AT_ONCE,
        timeout_keep_alive=6, timeout_graceful_shutdown=3, h11_max_incomplete_event_size=16 * 1024,
        proxy_headers=False,
    )  # fmt: skip
    # The server raises what stopped it once more when all is closed: an end that was asked for is a good one.
    signal.signal(signal.SIGTERM, lambda _number, _frame: None)
    uvicorn.Server(config).run()
