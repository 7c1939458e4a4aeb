"""Pond time out of machine time: pond = pond origin + (wall - wall origin) x rate.

The variable DAWNLINE_CLOCK_RATE carries it between programs as RATE@POND_ISO@WALL_UNIX_SECONDS.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from dawnline.duration import iso, parse_time

VARIABLE = "DAWNLINE_CLOCK_RATE"
LATEST_WALL_S = 7_258_118_400.0  # the year 2200
RATES = 1e-3, 1e9  # a story of days takes years at the one and no time at the other


@dataclass(frozen=True, slots=True)
class Clock:
    """A scaled clock; `pond_origin` in Unix ms, `wall_origin` in Unix seconds."""

    rate: float
    pond_origin: int
    wall_origin: float

    def now(self) -> float:
        """Pond time now, Unix ms."""
        return self.pond_origin + (time.time() - self.wall_origin) * 1000.0 * self.rate

    def seconds_until(self, at: int) -> float:
        """Machine seconds until it is `at` in the pond; negative when that is past."""
        return (at - self.now()) / 1000.0 / self.rate

    def text(self, zone: ZoneInfo) -> str:
        """The explicit form, for the environment of others."""
        return f"{self.rate:.12g}@{iso(self.pond_origin, zone)}@{self.wall_origin:.3f}"


def start_clock(rate: float, pond_origin: int) -> Clock:
    """A clock that shows `pond_origin` now."""
    return Clock(rate, pond_origin, round(time.time(), 3))


def read_clock(text: str) -> Clock | None:
    """The clock of a DAWNLINE_CLOCK_RATE; None where it is only a rate. Raises ValueError in words.

    >>> read_clock("720@2026-06-13T17:00:00+02:00@1764061234.5")
    Clock(rate=720.0, pond_origin=1781362800000, wall_origin=1764061234.5)
    """
    expected = (
        f"{VARIABLE}: expected RATE@POND_ISO@WALL_UNIX_SECONDS with the offset of the pond time, "
        "such as 720@2026-06-13T17:00:00+02:00@1764061234.5"
    )
    parts = text.split("@")
    try:
        rate = parse_rate(parts[0])
        if len(parts) == 1:
            return None
        _, pond, wall = parts
        zoned = datetime.fromisoformat(pond).tzinfo is not None
        clock = Clock(rate, parse_time(pond, ZoneInfo("UTC")), float(wall))
    except (ValueError, OverflowError):
        raise ValueError(f"{expected}; found {text!r}") from None
    if not zoned or not 0.0 <= clock.wall_origin < LATEST_WALL_S:
        raise ValueError(f"{expected}; found {text!r}")
    return clock


def parse_rate(text: str) -> float:
    """A rate within RATES: how many pond seconds go by in one. Raises ValueError in words."""
    try:
        rate = float(text)
    except ValueError:
        rate = 0.0
    if not RATES[0] <= rate <= RATES[1]:
        raise ValueError(f"a rate is a number above 0, from {RATES[0]:g} to {RATES[1]:g}, found {text!r}")
    return rate
