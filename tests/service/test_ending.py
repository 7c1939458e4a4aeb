from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator

import pytest
from structlog.testing import capture_logs

from dawnline.service.ending import end_together
from dawnline.service.stop import Stop


def test_one_that_hangs_and_one_that_breaks_leave_the_others_their_time() -> None:
    ended, never = [], threading.Event()

    def broken() -> None:
        raise RuntimeError("broken")

    with capture_logs() as logged:
        try:
            assert not end_together([never.wait, broken, lambda: ended.append("link")], within_s=0.2)
        finally:
            never.set()
    assert ended == ["link"]
    assert [row["error"] for row in logged] == ["RuntimeError: broken"]


def test_all_that_end_are_waited_for() -> None:
    ended: list[int] = []
    assert end_together([lambda n=n: ended.append(n) for n in range(5)])  # type: ignore[misc]
    assert sorted(ended) == [0, 1, 2, 3, 4]


@pytest.fixture
def stop() -> Iterator[Stop]:
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    yield Stop()
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_while_starting_a_signal_ends_the_process_well_and_at_once(stop: Stop, number: int) -> None:
    with pytest.raises(SystemExit) as ended:
        os.kill(os.getpid(), number)
    assert ended.value.code == 0


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_while_turning_a_signal_asks_the_loop_to_stop(stop: Stop, number: int) -> None:
    stop.turning = True
    os.kill(os.getpid(), number)
    assert stop()
