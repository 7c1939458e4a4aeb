"""The report that goes with a letter: drawn as it is sent, by whoever can (the delivery knows no store)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import NamedTuple, TypeAlias


class Report(NamedTuple):
    """`text` stands in the letter. `page` is the file to attach, under `name`; empty where none could be drawn."""

    text: str
    name: str = ""
    page: bytes = b""


Draw: TypeAlias = Callable[[date, date], Report]
"""The report of the days from the first to the last; never raises."""
