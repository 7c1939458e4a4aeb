"""Failures of the glass: coated, cracked, dried out."""

from __future__ import annotations

from math import exp

from dawnline_simulator.dice import Dice
from dawnline_simulator.failures.failure import to_count

CRACK_LAG_S = 180.0


class Coated:
    """A film of algae, lime or grease before the bulb: the lag grows from seconds to `lag_s` within `growth_s`.

    The bulb sees the film, and the film follows the water by diffusion: a first-order lag that grows with the film.
    The circuit behind it is well, so its own `noise` stays. Common practice; USGS Techniques and Methods 1-D3 treats
    the offset that such a film causes as fouling.
    """

    def __init__(self, count: float, dice: Dice, lag_s: float, growth_s: float, *, noise: float) -> None:
        self._count, self._dice, self._noise = count, dice, noise
        self._lag_s, self._growth_s = lag_s, growth_s
        self._passed = 0.0
        self._film: float | None = None

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The pH within the film."""
        if self._film is None:
            self._film = water_ph
        self._passed += seconds
        lag = 60.0 + (self._lag_s - 60.0) * min(1.0, self._passed / self._growth_s)
        self._film += (1.0 - exp(-seconds / lag)) * (water_ph - self._film)
        return to_count(self._film + self._dice.gauss(0.0, self._noise), self._count)


class Cracked:
    """A cracked bulb: inner solution and pond meet, the potential goes to zero within minutes and follows nothing.

    Zero is about pH 7 (see `electronics.Shorted`), here moved by `rest` as the junction's own potential has it. The
    leak is conductive, so the reading is quieter than a healthy one. Common practice; makers' fault tables.
    """

    def __init__(self, count: float, dice: Dice, *, rest: float = 0.0) -> None:
        self._count, self._dice, self._rest = count, dice, 7.0 + rest
        self._level: float | None = None

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """About 7."""
        if self._level is None:
            self._level = shown
        self._level += (1.0 - exp(-seconds / CRACK_LAG_S)) * (self._rest - self._level)
        return to_count(self._level + self._dice.gauss(0.0, 0.4 * self._count), self._count)


class Dried:
    """Out of the water: with a wet film for `film_s` seconds, in which CO2 leaves and pH creeps up, then dry.

    A dry bulb has a level of its own and walks about raggedly, as there is no path for a current. With `film_s` of 0
    it is dry at once (sun and wind). Common practice, no source; see also `faults.Air`, of which this is the slower
    relative.
    """

    def __init__(self, count: float, dice: Dice, *, film_s: float = 0.0) -> None:
        self._count, self._dice, self._film_s = count, dice, film_s
        self._passed = 0.0
        self._level: float | None = None
        self._bias = dice.uniform(0.6, 1.6) * (1.0 if dice.random() < 0.5 else -1.0)

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The pH of the film, and then of nothing."""
        self._passed += seconds
        if self._passed < self._film_s:
            rise = 0.4 * self._passed / self._film_s
            self._level = shown + rise
            return to_count(self._level + self._dice.gauss(0.0, self._count), self._count)
        if self._bias:
            self._level, self._bias = (shown if self._level is None else self._level) + self._bias, 0.0
        assert self._level is not None
        self._level = min(12.0, max(2.0, self._level + self._dice.gauss(0.0, 0.08 * min(seconds / 10.0, 9.0) ** 0.5)))
        return to_count(self._level, self._count)
