"""What both pond models look like from here: a pond that can be followed, disturbed and measured."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Any, Protocol

DAY_MS, HOUR_MS, MINUTE_MS = 86_400_000, 3_600_000, 60_000
STEP_MS = 2 * MINUTE_MS
BEGIN = 20_600 * DAY_MS  # 2026-05-27; each pond begins some days off


def roll(*of: object) -> Random:
    """One stream of chance a purpose, so that none disturbs another."""
    return Random("/".join(str(part) for part in of))


@dataclass(frozen=True)
class Place:
    """Where a pond lies; `zone` an IANA name."""

    latitude: float
    longitude: float
    zone: str


PLACES = (
    Place(36.5, -80.0, "America/New_York"),
    Place(41.9, 12.5, "Europe/Rome"),
    Place(47.95, 8.21, "Europe/Berlin"),
    Place(51.5, -0.1, "Europe/London"),
    Place(58.6, 16.2, "Europe/Stockholm"),
)


class Instrument(Protocol):
    """A pH probe in the pond."""

    def read(self, state: Any, seconds: float) -> float:
        """What it shows, `seconds` after the last reading."""

    def calibrate(self) -> None:
        """Set right in buffer solution."""


class World(Protocol):
    """One pond. States are immutable: one may be kept, and followed again under other events."""

    place: Place
    begin: int
    volume_litres: float
    alkalinity: float  # to begin with, in the model's own unit

    def start(self) -> Any:
        """The state at `begin`."""

    def follow(self, state: Any, at: int, events: list[Any]) -> Any:
        """The state one step of STEP_MS after `at`."""

    def ph(self, state: Any) -> float:
        """The true pH, over the whole pond."""

    def temperature_c(self, state: Any) -> float:
        """Where the probe hangs."""

    def alkalinity_meq_l(self, state: Any) -> float:
        """Over the whole pond."""

    def instrument(self, seed: str) -> Instrument:
        """Its pH probe."""

    def disaster(self, kind: str, at: int, size: float) -> list[Any]:
        """What befalls the pond from `at` on; `size` 1 is ordinary, more is worse."""

    def water_change(self, at: int, share: float, source_meq_l: float) -> Any:
        """One hour of water change."""

    def aeration(self, at: int, times: float) -> Any:
        """From `at` on, so many times the ordinary air."""
