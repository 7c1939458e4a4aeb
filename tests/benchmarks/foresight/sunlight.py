"""Sunset, sunrise and local dates of a place, from the simulator's sun: the watch's own is not asked."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from functools import lru_cache
from math import radians, sin
from typing import NamedTuple
from zoneinfo import ZoneInfo

from world import HOUR_MS, Place

from dawnline_simulator.sun import sine_of_elevation

_HORIZON = sin(radians(-0.833))


class Night(NamedTuple):
    """The night that ends on a local date [ms]; the dawn window is from `midnight` to four hours after sunrise."""

    sunset: int
    midnight: int
    sunrise: int

    @property
    def over(self) -> int:
        """End of the dawn window."""
        return self.sunrise + 4 * HOUR_MS


def local_date(at: int, place: Place) -> date:
    """The pond's date at a time."""
    return datetime.fromtimestamp(at / 1000, ZoneInfo(place.zone)).date()


@lru_cache(maxsize=4096)
def night_before(on: date, place: Place) -> Night:
    """The night that ends on a date."""
    midnight = round(datetime.combine(on, time(), ZoneInfo(place.zone)).timestamp() * 1000)
    day = round((on - timedelta(days=1) - date(1970, 1, 1)).days * 24 * HOUR_MS)
    noon = day + round((12.0 - place.longitude / 15.0) * HOUR_MS)
    return Night(
        _crossing(noon, noon + 12 * HOUR_MS, place),
        midnight,
        _crossing(noon + 24 * HOUR_MS, noon + 12 * HOUR_MS, place),
    )


def _crossing(up: int, down: int, place: Place) -> int:
    """Where the sun goes through the horizon between a time it is up and one it is down."""
    while abs(up - down) > 30_000:
        middle = (up + down) // 2
        if sine_of_elevation(middle, place.latitude, place.longitude) > _HORIZON:
            up = middle
        else:
            down = middle
    return up
