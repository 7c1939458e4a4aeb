"""What the pure parts ask of a random number generator; random.Random answers it. Scenario code makes
them.
"""

from __future__ import annotations

from typing import Protocol


class Dice(Protocol):
    """A seeded source of random numbers."""

    def random(self) -> float:
        """Uniform in 0 to 1."""

    def uniform(self, a: float, b: float) -> float:
        """Uniform between a and b."""

    def gauss(self, mu: float = 0.0, sigma: float = 1.0) -> float:
        """Normal with mean mu and standard deviation sigma."""
