"""Taking down what has a thread of its own: all at once, for one that hangs must not cost the others their time."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable
from typing import Final

import structlog

END_S: Final = 2.0  # machine time

_log = structlog.get_logger(__name__)


def end_together(endings: Iterable[Callable[[], object]], within_s: float = END_S) -> bool:
    """Call each of them; False where one has not come back within `within_s` (machine time): it is left behind.

    Their threads are daemons, so what hangs does not keep the process.
    """
    threads = [threading.Thread(target=_end, args=(ending,), name="ending", daemon=True) for ending in endings]
    for thread in threads:
        thread.start()
    until_s = time.monotonic() + within_s
    for thread in threads:
        thread.join(max(0.0, until_s - time.monotonic()))
    return not any(thread.is_alive() for thread in threads)


def _end(ending: Callable[[], object]) -> None:
    try:
        ending()
    except Exception as error:  # noqa: BLE001  the others still have to end
        _log.warning("ending-failed", error=f"{type(error).__name__}: {error}")
