"""The shape of the repository: what stands at the top, and how large a file may grow."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FILES = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
ROOMS = {"daemon", "config", "tests", "simulator", "systemd"}
LONGEST = 300  # lines; a longer file holds two ideas
SAYS_NOTHING = {"util", "utils", "helper", "helpers", "manager", "common", "base", "misc"}

PYTHON = sorted(path for room in ("daemon", "simulator") for path in (ROOT / room).rglob("*.py"))


def in_git() -> set[str]:
    """Everything git keeps or would keep, by its first part; a bare copy of the sources has no git to ask."""
    if not (ROOT / ".git").exists():
        pytest.skip("not a git clone: what belongs to the repository cannot be told from what lies about")
    command = ["git", "-C", str(ROOT), "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip(f"git does not answer here: {listed.stderr.strip()}")
    return {name.split("/")[0] for name in listed.stdout.split("\0") if name and (ROOT / name).exists()}


def test_nothing_else_stands_at_the_top() -> None:
    assert {name for name in in_git() if not name.startswith(".")} - FILES - ROOMS == set()


def test_everything_stands_at_the_top() -> None:
    assert (FILES | ROOMS) - in_git() == set()


def test_there_are_sources() -> None:
    assert len(PYTHON) > 20


@pytest.mark.parametrize("path", PYTHON, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_file_holds_one_idea(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST
    assert path.stem not in SAYS_NOTHING


@pytest.mark.parametrize("room", ["daemon", "simulator"])
def test_the_roots_are_no_packages(room: str) -> None:
    assert not (ROOT / room / "__init__.py").exists()
