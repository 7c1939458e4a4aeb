from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from dawnline.store.store import Store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "heron-lane.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    with Store.open(path, [("ph", "ph"), ("water", "temperature")]) as opened:
        yield opened
