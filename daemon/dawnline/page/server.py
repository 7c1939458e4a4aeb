"""The server process: listens, and closes on whoever keeps it waiting."""

from __future__ import annotations

from typing import Any, Final

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from dawnline.page.app import Site

HEAD_S: Final = 10.0  # for the head of a first request
AT_ONCE: Final = 40  # connections; one page draws itself with three


class Door(H11Protocol):
    """A connection that must say what it wants in time."""

    def connection_made(self, transport: Any) -> None:
        """Somebody has connected."""
        super().connection_made(transport)
        self._patience = self.loop.call_later(HEAD_S, self._still_silent)

    def _still_silent(self) -> None:
        if self.cycle is None and not self.transport.is_closing():
            self.transport.close()

    def connection_lost(self, exc: Exception | None) -> None:
        """It is gone."""
        self._patience.cancel()
        super().connection_lost(exc)


def serve(site: Site) -> None:
    """Serve until SIGINT or SIGTERM."""
    page = site.doors.settings.page
    config = uvicorn.Config(
        site.app(), host=page.listen, port=page.port, http=Door, ws="none", lifespan="off", loop="asyncio",
        access_log=False, log_level="warning", server_header=False, date_header=True, limit_concurrency=AT_ONCE,
        timeout_keep_alive=15, timeout_graceful_shutdown=3, h11_max_incomplete_event_size=16 * 1024,
        proxy_headers=False,
    )  # fmt: skip
    uvicorn.Server(config).run()
