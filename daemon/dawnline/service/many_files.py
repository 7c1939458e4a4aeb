"""More files than a process is allowed at first, and than select(2) can see: hundreds of ponds have thousands open."""

from __future__ import annotations

import resource
import select
from collections.abc import Sequence
from typing import Any, Final

import structlog

EACH: Final = 10  # a pond: its store with log and lock, the inbox, a reader, a journal at work
OTHERS: Final = 200
SEEN_BY_SELECT: Final = 1024  # FD_SETSIZE, select(2)

_log = structlog.get_logger(__name__)


def allow_files(ponds: int) -> None:
    """As many open files as these ponds need, or a word about what is missing."""
    wanted = EACH * ponds + OTHERS
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        try:
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
        except (OSError, ValueError):
            _log.warning("few-open-files", allowed=soft, wanted=wanted, remedy="LimitNOFILE in the unit, or ulimit -n")
    if wanted > SEEN_BY_SELECT:
        _let_the_client_poll()


def _let_the_client_poll() -> None:
    """The MQTT client waits by select(2), which fails on a socket numbered 1024 or above; poll(2) does not."""
    import paho.mqtt.client as paho

    library: Any = paho
    library.select = Poll


class Poll:
    """What the client uses of the module `select`."""

    error = OSError

    @staticmethod
    def select(
        reading: Sequence[Any], writing: Sequence[Any], _: Sequence[Any], timeout_s: float
    ) -> tuple[list[Any], list[Any], list[Any]]:
        """Which of these can be read and written without waiting. Raises ValueError for one that is closed."""
        poll = select.poll()
        for each in {*reading, *writing}:
            wanted = (select.POLLIN if each in reading else 0) | (select.POLLOUT if each in writing else 0)
            poll.register(each, wanted)
        ready = dict(poll.poll(timeout_s * 1000))
        troubled = ~select.POLLOUT  # an error or a hang-up is found by reading
        return (
            [each for each in reading if ready.get(each.fileno(), 0) & troubled],
            [each for each in writing if ready.get(each.fileno(), 0) & select.POLLOUT],
            [],
        )
