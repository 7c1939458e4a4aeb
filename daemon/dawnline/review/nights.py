"""Nights looked back on: what was forecast at sunset, three hours later and last before sunrise, and what came."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, NamedTuple

from dawnline.duration import HOUR_MS
from dawnline.event import Day, Forecast
from dawnline.outlook.sun import Sun

LATER_MS: Final = 3 * HOUR_MS


class Told(NamedTuple):
    """One forecast, given at `at` [ms]: the coming dawn low with its 10 and 90 % bounds [pH], and when [ms]."""

    at: int
    low: float
    low_p10: float
    low_p90: float
    low_at: int


@dataclass(frozen=True, slots=True)
class SeenNight:
    """The night that ends with the sunrise of `date`, for one probe. What is not known is None.

    `came` is the dawn low of that day, at `came_at`. `within` is whether it lay between the bounds three hours after
    sunset.
    """

    date: str
    probe: str
    at_sunset: Told | None
    later: Told | None
    last: Told | None
    came: float | None
    came_at: int | None

    @property
    def within(self) -> bool | None:
        """See above."""
        if self.later is None or self.came is None:
            return None
        return self.later.low_p10 <= self.came <= self.later.low_p90

    @property
    def error(self) -> float | None:
        """What came less what was expected three hours after sunset [pH]."""
        return None if self.later is None or self.came is None else self.came - self.later.low


def nights(forecasts: Iterable[Forecast], days: Sequence[Day], sun: Sun) -> list[SeenNight]:
    """Every night that has a forecast, by date and probe."""
    found: dict[tuple[str, str], list[Told]] = defaultdict(list)
    for each in forecasts:
        found[str(each.body["night"]), str(each.body["probe"])].append(told(each))
    by_day = {(day.date, day.probe): day for day in days}
    seen = []
    for (on, probe), said in sorted(found.items()):
        morning = date.fromisoformat(on)
        sunset, sunrise = sun.day(morning - timedelta(days=1)).sunset, sun.day(morning).sunrise
        dark = [each for each in said if sunset <= each.at <= max(sunrise, sunset + HOUR_MS)]
        later = [each for each in dark if sunset + LATER_MS - HOUR_MS < each.at <= sunset + LATER_MS]
        early = [each for each in dark if each.at < sunset + HOUR_MS]
        day = by_day.get((on, probe))
        seen.append(
            SeenNight(
                on, probe, early[0] if early else None, later[-1] if later else None, dark[-1] if dark else None,
                None if day is None else day.dawn_low, None if day is None else day.dawn_low_at,
            )
        )  # fmt: skip
    return seen


def told(forecast: Forecast) -> Told:
    """The figures of a forecast of tonight."""
    body = forecast.body
    low_at = round(datetime.fromisoformat(body["at"]).timestamp() * 1000)
    return Told(forecast.at, float(body["low"]), float(body["low_p10"]), float(body["low_p90"]), low_at)
