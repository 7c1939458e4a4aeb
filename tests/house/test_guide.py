"""The contributors' guide is true where that can be told: what it names is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PACKAGE = ROOT / "daemon" / "dawnline"
FILES = sorted(set(re.findall(r"`([\w/.-]+\.(?:py|toml|md))`", GUIDE)))
MAP = GUIDE.partition("## The map")[2].partition("```\n")[2].partition("```")[0]
ROOMS = sorted(each.name for each in PACKAGE.iterdir() if (each / "__init__.py").exists())


def test_the_guide_names_files() -> None:
    assert len(FILES) > 40


@pytest.mark.parametrize("name", FILES)
def test_each_file_it_names_is_there(name: str) -> None:
    if "/" in name:
        assert any((root / name).exists() for root in (ROOT, PACKAGE, ROOT / "simulator" / "dawnline_simulator")), name
    else:
        assert any(any((ROOT / folder).rglob(name)) for folder in ("daemon", "simulator", "tests")), name


@pytest.mark.parametrize("room", ROOMS)
def test_each_room_is_on_the_map(room: str) -> None:
    assert re.search(rf"^    {room}/ ", MAP, re.MULTILINE), room


@pytest.mark.parametrize("name", sorted(each.name for each in PACKAGE.glob("[a-z]*.py")))
def test_each_file_beside_the_rooms_is_on_the_map(name: str) -> None:
    assert re.search(rf"(?<![\w/]){name.removesuffix('.py')}(?:\.py)?(?![\w/])", MAP), name
