"""What `check` has found."""

from __future__ import annotations

from pathlib import Path
from typing import Any

PERSON = '[[people]]\nname = "Ada"\naddresses = {}\n'


def not_well(found: Any) -> list[str]:
    return [line[10:] for line in found.out.splitlines() if line.startswith("NOT WELL")]


def says(found: Any, *parts: str) -> bool:
    """Whether one line of what is not well holds all these parts."""
    return found.status == 1 and any(all(part in line for part in parts) for line in not_well(found))


def on(port: Path | str) -> str:
    return f'[[probes]]\nname = "ph"\nquantity = "ph"\nlink = "serial"\nport = "{port}"\n'
