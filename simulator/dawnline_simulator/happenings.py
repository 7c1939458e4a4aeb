"""What befalls a pond, dated by the day of the story (day 1 is the day it starts) and the clock on the
wall.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from math import pi, sin
from typing import TypeAlias
from zoneinfo import ZoneInfo

from dawnline_simulator.pond import Forcing

HOUR_MS = 3_600_000


@dataclass(frozen=True, slots=True)
class Rain:
    """`depth_mm` over `hours`, heaviest in the middle; each litre carries `labile_umol_l` of loose organic
    carbon.
    """

    day: int
    clock: str
    hours: float
    depth_mm: float
    labile_umol_l: float = 0.0


@dataclass(frozen=True, slots=True)
class AirStops:
    """The air pump stands still."""

    day: int
    clock: str
    hours: float


@dataclass(frozen=True, slots=True)
class Acid:
    """Mineral acid goes in over `hours`: `dose_meq_l` of alkalinity lost in all."""

    day: int
    clock: str
    hours: float
    dose_meq_l: float


@dataclass(frozen=True, slots=True)
class Bloom:
    """Algae multiply to `times` the ordinary amount within `hours`, and stay."""

    day: int
    clock: str
    hours: float
    times: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """Air warmer by `degrees` (colder when negative) for a while, coming and going gently."""

    day: int
    clock: str
    hours: float
    degrees: float


@dataclass(frozen=True, slots=True)
class Overcast:
    """Cloud of `cloud` (0 to 1), whatever the weather had in mind."""

    day: int
    clock: str
    hours: float
    cloud: float


Happening: TypeAlias = Rain | AirStops | Acid | Bloom | Warmth | Overcast

LABELS = {
    Rain: ("rain starts", "rain ends"),
    AirStops: ("air pump stops", "air pump runs again"),
    Acid: ("acid goes in", "acid is in"),
    Bloom: ("algae begin to multiply", ""),
    Warmth: ("warm spell starts", "warm spell ends"),
    Overcast: ("sky closes", "sky opens"),
}


def moment(first_midnight: int, zone: ZoneInfo, day: int, clock: str) -> int:
    """Unix ms of a wall-clock time "HH:MM" on a day of the story, right through changes of the clock.

    >>> moment(0, ZoneInfo("UTC"), 2, "01:30") // 60_000
    1530
    """
    date = datetime.fromtimestamp(first_midnight / 1000, zone).date() + timedelta(days=day - 1)
    return round(datetime.combine(date, time.fromisoformat(clock), zone).timestamp() * 1000)


@dataclass(frozen=True, slots=True)
class Dated:
    """A happening with its begin and end in Unix ms."""

    what: Happening
    begin: int
    end: int

    def share(self, at: int) -> float:
        """How much of its time is over, 0 to 1."""
        return min(1.0, max(0.0, (at - self.begin) / max(self.end - self.begin, 1)))


def date(what: Happening, first_midnight: int, zone: ZoneInfo, shift_ms: int = 0) -> Dated:
    """A happening on the calendar, moved by `shift_ms`."""
    begin = moment(first_midnight, zone, what.day, what.clock) + shift_ms
    return Dated(what, begin, begin + round(what.hours * HOUR_MS))


def apply(forcing: Forcing, dated: Dated, at: int) -> Forcing:
    """The forcing as this happening changes it. Overcast acts on the weather instead: see `cloud_at`."""
    what, share = dated.what, dated.share(at)
    if isinstance(what, Bloom):
        return forcing._replace(algae=forcing.algae * what.times**share)
    if not dated.begin <= at < dated.end:
        return forcing
    bell = sin(pi * share) ** 2
    match what:
        case Rain():
            rate = forcing.rain_mm_h + what.depth_mm / what.hours * 2.0 * bell
            forcing = forcing._replace(rain_mm_h=rate, rain_labile_umol_l=what.labile_umol_l)
        case AirStops():
            forcing = forcing._replace(aeration=0.0)
        case Acid():
            forcing = forcing._replace(acid_meq_l_h=forcing.acid_meq_l_h + what.dose_meq_l / what.hours)
        case Warmth():
            forcing = forcing._replace(air_c=forcing.air_c + what.degrees * bell**0.5)
    return forcing


def cloud_at(cloud: float, dated: Dated, at: int) -> float:
    """The cloud as this happening changes it."""
    if isinstance(dated.what, Overcast) and dated.begin <= at < dated.end:
        return dated.what.cloud
    return cloud
