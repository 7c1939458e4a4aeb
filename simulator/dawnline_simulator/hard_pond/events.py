"""What befalls a hard pond. Times in Unix ms; `end` is when it is over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Span:
    """From `begin` until `end`."""

    begin: int
    end: int

    def on(self, at: int) -> bool:
        """Is it going on?"""
        return self.begin <= at < self.end

    @property
    def hours(self) -> float:
        """How long it takes."""
        return (self.end - self.begin) / 3_600_000


@dataclass(frozen=True, slots=True)
class AirStops(Span):
    """The diffuser stands still; with `power_cut` the filter pump too."""

    power_cut: bool = False


@dataclass(frozen=True, slots=True)
class Aeration(Span):
    """The diffuser gives `times` its ordinary air."""

    times: float = 0.6


@dataclass(frozen=True, slots=True)
class Cloudburst(Span):
    """`depth_mm` of rain that carries `labile` umol C and `alkalinity` ueq a litre, under a closed sky."""

    depth_mm: float = 50.0
    labile: float = 800.0
    alkalinity: float = -40.0


@dataclass(frozen=True, slots=True)
class AcidSpill(Span):
    """`dose` ueq per litre of the whole pond, poured into the upper layer."""

    dose: float = 400.0


@dataclass(frozen=True, slots=True)
class DieOff(Span):
    """Plankton dies at `per_hour`, wall algae at a fifth of that; what is left rots."""

    per_hour: float = 0.2


@dataclass(frozen=True, slots=True)
class Bloom(Span):
    """Plankton grows `times` as fast and is grazed the less."""

    times: float = 2.5


@dataclass(frozen=True, slots=True)
class WaterChange(Span):
    """`share` of the pond exchanged for tap water of `alkalinity` and `dic`."""

    share: float = 0.15
    alkalinity: float = 1000.0
    dic: float = 1080.0
    temperature_c: float = 13.0


@dataclass(frozen=True, slots=True)
class FilterCleaned(Span):
    """At `begin`: `kept` of film and of nitrifiers stays."""

    kept: float = 0.5


@dataclass(frozen=True, slots=True)
class FishAdded(Span):
    """At `begin`: so many kg more."""

    kg: float = 3.0


Event: TypeAlias = (
    AirStops | Aeration | Cloudburst | AcidSpill | DieOff | Bloom | WaterChange | FilterCleaned | FishAdded
)
