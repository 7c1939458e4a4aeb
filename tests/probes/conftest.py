"""A port that can be unplugged, and a pond clock that is set by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from dawnline.event import Tick
from dawnline.probes.intake import Batch, Intake

from ..household import Cable


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[Cable]:
    """A cable, plugged in."""
    made = Cable(tmp_path / "port")
    made.plug()
    yield made
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
