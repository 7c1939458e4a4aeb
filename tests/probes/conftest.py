"""A port that can be unplugged, and a pond clock that is set by hand."""

from __future__ import annotations

import contextlib
import os
import tty
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from dawnline.event import Tick
from dawnline.probes.intake import Batch, Intake


class Cable:
    """A pseudo-terminal behind a symbolic link, as udev makes one for a USB adaptor."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._ends: tuple[int, int] | None = None

    def plug(self) -> None:
        """The device is there: the link leads to a fresh terminal."""
        self._ends = os.openpty()
        tty.setraw(self._ends[1])
        self.path.symlink_to(os.ttyname(self._ends[1]))

    def unplug(self) -> None:
        """The device is gone, and the link with it."""
        assert self._ends is not None
        self.path.unlink()
        for end in self._ends:
            os.close(end)
        self._ends = None

    def send(self, data: bytes) -> None:
        """The device writes."""
        assert self._ends is not None
        os.write(self._ends[0], data)

    def fill(self, line: bytes) -> None:
        """The device writes the line again and again, until the kernel takes no more."""
        assert self._ends is not None
        os.set_blocking(self._ends[0], False)
        with contextlib.suppress(BlockingIOError):
            while True:
                os.write(self._ends[0], line)
        os.set_blocking(self._ends[0], True)

    @property
    def is_plugged(self) -> bool:
        """Whether the device is there."""
        return self._ends is not None


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[Cable]:
    """A cable, plugged in."""
    made = Cable(tmp_path / "port")
    made.plug()
    yield made
    if made.is_plugged:
        made.unplug()


@pytest.fixture
def intake() -> Intake:
    """A queue whose pond clock stands still at 1 000 000."""
    return Intake(lambda: 1_000_000)


@pytest.fixture
def drain() -> Callable[[Intake], list[Batch]]:
    """Everything that waits in a queue."""

    def take_all(intake: Intake) -> list[Batch]:
        found: list[Batch] = []
        while not isinstance(item := intake.take(0), Tick):
            assert isinstance(item, Batch)
            found.append(item)
        return found

    return take_all
