"""A pond whose service is ended after the test, and cards that are small or can be made to fail."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from ..configuration import POND, serial
from ..household import Household

CONFIGURATION = POND + serial("ph", "ph", "PORT") + serial("water", "temperature", "PORT", 'key = "temp"')


@pytest.fixture
def make_pond(tmp_path: Path) -> Iterator[Callable[..., Household]]:
    """`make_pond(extra)` gives a pond whose service is ended after the test."""
    made: list[Household] = []

    def make(extra: str = "") -> Household:
        made.append(Household(tmp_path, CONFIGURATION + extra))
        return made[-1]

    yield make
    for pond in made:
        pond.end(signal.SIGKILL)


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Path]:
    """A folder on a file system of 2 MB; to mount it takes root."""
    folder = tmp_path / "card"
    folder.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    if os.geteuid() != 0 or shutil.which("mount") is None or subprocess.run(words, check=False).returncode:
        pytest.skip("cannot mount a small file system here: run as root")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


@pytest.fixture
def image(tmp_path: Path, script: Callable[[str], ModuleType]) -> Iterator[Any]:
    """A card of 8 MB with ext4, which can be made to fail; to mount it takes root."""
    try:
        card = script("card").Card(tmp_path, 8)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("cannot mount an image here: run as root")
    yield card
    subprocess.run(["umount", "--lazy", str(card.path)], check=True)
