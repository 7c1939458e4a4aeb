"""PHREEQC beside us, where its library loads; published tables."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from ..machine import missing

REFERENCE = Path(__file__).parents[1] / "reference"


@pytest.fixture(scope="session")
def phreeqc():
    try:
        from phreeqpython import PhreeqPython

        return PhreeqPython(database="phreeqc.dat")
    except (ImportError, OSError) as reason:
        missing(f"phreeqpython ({reason})")


@pytest.fixture
def table():
    def read(name: str) -> list[dict[str, float]]:
        with (REFERENCE / name).open(encoding="utf-8") as lines:
            assert next(lines).startswith("# "), "line 1 names the source"
            return [{key: float(cell) for key, cell in row.items()} for row in csv.DictReader(lines)]

    return read
