"""Looks the whole file over for damage, beside the watch: on a slow card that takes minutes for the record of years.

What a start needs is read at the start, and a small file as a whole. A larger one is read on a thread of its own, of
the lowest priority, some minutes after the start and then once a month. Damage found so is treated as damage found by a
write: the core asks for it, and goes on with a new file.
"""

from __future__ import annotations

import os
import threading
from contextlib import suppress
from pathlib import Path
from typing import Final

import structlog

from dawnline.errors import DamagedStoreError, StoreError
from dawnline.store.upkeep import look_over

WHOLE_BYTES: Final = 64_000_000  # so much is read before the watch begins: seconds, even at 10 MB/s
FIRST_S: Final = 600.0  # machine time
AGAIN_S: Final = 30 * 86_400.0
_one_at_a_time: Final = threading.Lock()  # of many ponds in a process

_log = structlog.get_logger(__name__)


def is_small(path: Path) -> bool:
    """Whether the file at `path` can be read as a whole before the watch begins; so can one that is not there."""
    try:
        return path.stat().st_size <= WHOLE_BYTES
    except OSError:
        return True


class LookOver:
    """`found` is the damage, for whoever asks; None so long as none was found."""

    def __init__(self, path: Path, first_s: float = FIRST_S) -> None:
        self.found: DamagedStoreError | None = None
        self._path, self._first_s = path, first_s
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="look-over", daemon=True)

    def start(self) -> None:
        """Begin, where the file is large."""
        if not is_small(self._path):
            self._thread.start()

    def stop(self) -> None:
        """End; what is being read is left half read."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(2.0)

    def _run(self) -> None:
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 19)  # Linux: of this thread alone
        wait_s = self._first_s
        while not self._stopping.wait(wait_s):
            wait_s = AGAIN_S
            with _one_at_a_time:
                try:
                    look_over(self._path, self._stopping.is_set)
                    _log.info("store-looked-over", store=str(self._path))
                except DamagedStoreError as error:
                    self.found = error
                except StoreError as error:
                    if not self._stopping.is_set():
                        _log.warning("store-not-looked-over", why=str(error))
