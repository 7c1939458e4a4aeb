"""What tests ask of the machine they run on: to wait until something is so, a free port, a program or a library."""

from __future__ import annotations

import os
import shutil
import socket
import time
from collections.abc import Callable
from typing import NoReturn, TypeVar

T = TypeVar("T")
WAIT_S = 90.0  # for what takes a moment, and longer on a busy machine: only what fails is waited for so long


def until(condition: Callable[[], T], what: str = "the condition", every_s: float = 0.01) -> T:
    """Wait until it holds, and give what it gave; fails, with `what`, where it never does."""
    end = time.monotonic() + WAIT_S
    while not (found := condition()):
        if time.monotonic() > end:
            raise AssertionError(f"{what} did not come true within {WAIT_S:.0f} s")
        time.sleep(every_s)
    return found


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def program(name: str) -> str:
    """Where a program is; where it is `missing`, so it says."""
    return shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin") or missing(f"the program {name}")


def missing(what: str) -> NoReturn:
    """Skip the test for want of `what`, or fail it where DAWNLINE_TEST_ALL=1 asks for everything."""
    import pytest  # benchmarks do without

    reason = f"needs {what}, which is not here"
    if os.environ.get("DAWNLINE_TEST_ALL") == "1":
        pytest.fail(reason)
    pytest.skip(reason)
