"""Failures of the measuring circuit that leave the glass itself alive: plug, junction, ground."""

from __future__ import annotations

from math import cos, pi

from dawnline_simulator.dice import Dice
from dawnline_simulator.failures.failure import to_count


class Stepped:
    """The reading jumps by `size` pH within one reading and then follows the water with that offset.

    A bumped electrode traps or frees a bubble at its junction, a plug leaks to ground, a relay joins two grounds: the
    potential of the reference is another one at once, the glass goes on working. Common practice, no source.
    """

    def __init__(self, count: float, size: float) -> None:
        self._count, self._size = count, size

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The healthy reading and the offset."""
        return to_count(shown + self._size, self._count)


class Noisy:
    """The water's pH under a noise of `size` [pH, standard deviation].

    Moisture in the plug makes it random, each reading anew. A ground loop brings in the mains: sampled at a fixed
    interval its 50 Hz appear as a slow beat of `beat_s` seconds, of which a tenth stays random. Sampling theory;
    sizes are common practice, no source.
    """

    def __init__(self, count: float, dice: Dice, size: float, *, beat_s: float | None = None) -> None:
        self._count, self._dice, self._size, self._beat_s = count, dice, size, beat_s
        self._passed = 0.0
        self._phase = dice.uniform(0.0, 2.0 * pi)

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The healthy reading and the noise."""
        self._passed += seconds
        noise = self._dice.gauss(0.0, self._size)
        if self._beat_s is not None:
            wave = 2.0**0.5 * self._size * cos(2.0 * pi * self._passed / self._beat_s + self._phase)
            noise = wave + 0.1 * noise
        return to_count(shown + noise, self._count)
