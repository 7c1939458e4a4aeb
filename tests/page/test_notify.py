"""What systemd hears of the page: that it is up, that it turns, that it ends."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import uvicorn

from dawnline.page.server import Quiet

from .chromium import RealPond


@pytest.fixture
def heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        channel.bind(str(tmp_path / "notify"))
        channel.settimeout(60)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        monkeypatch.setenv("WATCHDOG_USEC", "300000")
        yield channel


def test_it_is_up_when_it_answers_and_says_so_until_it_is_told_to_end(tmp_path: Path, heard: socket.socket) -> None:
    pond = RealPond(tmp_path)
    pond.start("page")
    assert heard.recv(100) == b"READY=1"
    assert pond.answers()
    assert [heard.recv(100) for _ in range(3)] == [b"WATCHDOG=1"] * 3
    pond.end()
    said = b"WATCHDOG=1"
    while said == b"WATCHDOG=1":
        said = heard.recv(100)
    assert said == b"STOPPING=1"


async def _hangs() -> None:
    await asyncio.Event().wait()


def test_where_no_page_can_be_drawn_the_watchdog_hears_nothing_and_an_end_is_still_one(heard: socket.socket) -> None:
    server = Quiet(uvicorn.Config(lambda: None), _hangs)

    async def soon() -> None:
        turning = asyncio.create_task(server.main_loop())
        await asyncio.sleep(0.5)
        server.handle_exit(15, None)
        await turning

    with ThreadPoolExecutor(1) as aside:  # where a browser is driven, this thread has a loop that runs
        aside.submit(lambda: asyncio.run(soon())).result()
    heard.setblocking(False)
    assert [heard.recv(100), heard.recv(100)] == [b"READY=1", b"STOPPING=1"]
    with pytest.raises(BlockingIOError):
        heard.recv(100)
