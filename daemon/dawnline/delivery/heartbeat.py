"""The heartbeat: a request to an address of the keeper's choice while all is well; whoever waits there tells when none
comes.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import structlog

from dawnline.delivery.addresses import resolve_address
from dawnline.delivery.settings import HeartbeatSettings
from dawnline.errors import DawnlineError, DeliveryError, SettingsError

AGAIN_S: Final = 60.0  # after one that failed, where `every` is longer
FRESH_S: Final = 30.0  # how long one sign of life of the core holds

_log = structlog.get_logger(__name__)


class Heartbeat:
    """Sends on a thread of its own; `alive` is called by whoever vouches for the watch, about once a second.

    Nothing is sent while nobody vouches. `every_s` is machine time.
    """

    def __init__(
        self, settings: HeartbeatSettings, folder: Path, every_s: float, *, send: Callable[[str], None] | None = None
    ) -> None:
        self.sent = self.failed = self.withheld = 0
        self.failing = ""  # why the last one failed, until one arrives
        self._settings = settings
        self._folder = folder
        self._every_s = every_s
        self._send = send or ping
        self._alive_s = -FRESH_S
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)

    def start(self) -> None:
        """Begin; the first beat follows the first sign of life."""
        self._thread.start()

    def stop(self) -> None:
        """End; a beat that is under way may still go out."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(1.0)

    def alive(self) -> None:
        """All is well at this moment."""
        self._alive_s = time.monotonic()

    def as_json(self) -> dict[str, Any]:
        """How it is doing, for `status`."""
        return {"sent": self.sent, "failed": self.failed, "withheld": self.withheld, "failing": self.failing}

    def _run(self) -> None:
        while not self._stopping.is_set() and self._alive_s < 0:
            self._stopping.wait(0.05)
        while not self._stopping.is_set():
            self._stopping.wait(self._beat())

    def _beat(self) -> float:
        """One beat; gives the seconds until the next."""
        if time.monotonic() - self._alive_s > FRESH_S:
            self.withheld += 1
            return self._every_s
        try:
            self._send(web_address(self._settings.url, self._folder))
        except DawnlineError as error:
            self._failed(str(error))
        except Exception as error:  # noqa: BLE001  a fault of ours must not end the heartbeat
            self._failed(f"internal fault ({type(error).__name__})")
        else:
            self.sent, self.failing = self.sent + 1, ""
            return self._every_s
        return min(AGAIN_S, self._every_s)

    def _failed(self, why: str) -> None:
        if not self.failing:
            _log.warning("heartbeat-not-taken", why=why)
        self.failed, self.failing = self.failed + 1, why


def web_address(text: str, folder: Path) -> str:
    """The address of the heartbeat, a secret followed. Raises SettingsError where it is missing or no web address."""
    address = resolve_address(text, folder)
    if address.channel != "webhook":
        raise SettingsError(f"the address in {text} is no web address: expected https://...")
    return address.target


def ping(url: str) -> None:
    """One GET of `url`; any 2xx will do. Raises DeliveryError, without quoting the address."""
    from dawnline.delivery.web import FAILURES, connect, login, path_of, trouble

    connection = connect(url)
    try:
        headers = {"User-Agent": "dawnline", "Connection": "close"} | login(url)
        connection.request("GET", path_of(url), headers=headers, preload_content=False)
        with connection.getresponse() as response:
            if not 200 <= response.status < 300:
                raise DeliveryError(f"heartbeat: answered {response.status}", retry=True)
    except FAILURES as error:
        raise trouble("heartbeat", error, url) from None
    finally:
        connection.close()
