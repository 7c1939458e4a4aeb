"""A rain gauge with a tipping bucket of 0.2 mm, and the three ways in which such gauges speak of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from math import floor
from typing import Final, Literal, TypeAlias
from zoneinfo import ZoneInfo

from dawnline_simulator.simulate import Row

Way: TypeAlias = Literal["total", "midnight", "amount"]

TIP_MM: Final = 0.2


def gauged(rows: Iterable[Row], way: Way, zone: ZoneInfo) -> Iterator[Row]:
    """The rows with what the gauge shows [mm]: all since the start, since midnight, or since the row before."""
    tips, base, day = 0, 0, None
    for row in rows:
        before, tips = tips, floor(row.fell / TIP_MM + 1e-9)
        today = datetime.fromtimestamp(row.at / 1000, zone).date()
        if way == "amount" or (way == "midnight" and today != day):
            base = before
        day = today
        yield row._replace(rain=round((tips - base) * TIP_MM, 4))
