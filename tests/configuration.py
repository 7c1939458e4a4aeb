"""The configuration that most tests begin with: a place and a store, to which they add what they are about."""

from __future__ import annotations

POND = """
[pond]
name = "Heron Lane"
latitude = 47.95
longitude = 8.21
timezone = "Europe/Berlin"
[store]
path = "pond.db"
"""


def serial(name: str, quantity: str, port: str = "/dev/null", *more: str) -> str:
    """One probe on a serial port; `more` are further lines of it, such as `key = "temp"`."""
    lines = [f'name = "{name}"', f'quantity = "{quantity}"', 'link = "serial"', f'port = "{port}"', *more]
    return "\n".join(["[[probes]]", *lines, ""])
