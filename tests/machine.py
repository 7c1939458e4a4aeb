"""What tests ask of the machine they run on: to wait until something is so, and a port that is free."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def until(condition: Callable[[], T], what: str = "the condition", timeout_s: float = 20.0, every_s: float = 0.01) -> T:
    """Wait until it holds, and give what it gave; fails, with `what`, where it never does."""
    end = time.monotonic() + timeout_s
    while not (found := condition()):
        if time.monotonic() > end:
            raise AssertionError(f"{what} did not come true within {timeout_s:.0f} s")
        time.sleep(every_s)
    return found


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
