"""Failures behind the glass: converter, firmware, amplifier and cable."""

from __future__ import annotations

from dawnline_simulator.dice import Dice
from dawnline_simulator.failures.failure import to_count

MV_PER_PH = 59.16  # Nernst at 25 degC


class Frozen:
    """A converter that has hung, or firmware that repeats its last conversion: the same value to the last digit.

    With `dither`, a share of the readings one count up or down: an averaging stage behind a hung converter, whose
    last digit still rolls. Common practice, no source.
    """

    def __init__(self, count: float, dice: Dice, *, dither: float = 0.0) -> None:
        self._count, self._dice, self._dither = count, dice, dither
        self._held: float | None = None

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The value it froze at."""
        if self._held is None:
            self._held = shown
        if self._dice.random() >= self._dither:
            return self._held
        return to_count(self._held + (self._count if self._dice.random() < 0.5 else -self._count), self._count)


class Stuck:
    """An amplifier or converter at the end of its range: one value, `at_ph`.

    An open input of 10^12 ohm charges up until it saturates, a reference lead that broke does the same. What the end
    is depends on the maker: pH 0 or 14, the lower end of a 4 to 20 mA range, or +-2047 mV carried through the Nernst
    slope (`rail_ph`). Common practice, no source.
    """

    def __init__(self, at_ph: float) -> None:
        self._at_ph = at_ph

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The end of the range."""
        return self._at_ph


def rail_ph(millivolts: float) -> float:
    """The pH that an instrument computes from a saturated input [mV], to two digits.

    >>> rail_ph(-2047.0), rail_ph(2047.0)
    (41.6, -27.6)
    """
    return round(7.0 - millivolts / MV_PER_PH, 2)


class Silent:
    """A dead wire or a dead supply: nothing comes."""

    def show(self, seconds: float, water_ph: float, shown: float) -> None:
        """Nothing."""


class Floating:
    """The inner conductor is broken: an input of 10^12 ohm that nothing drives.

    It walks about mid-scale with its own bias current and takes up the hum of the mains, far more than any water
    shows. Common practice, no source.
    """

    def __init__(self, count: float, dice: Dice, *, hum: float = 0.3) -> None:
        self._count, self._dice, self._hum = count, dice, hum
        self._level = 7.0 + dice.uniform(-1.5, 1.5)

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """The next meaningless pH."""
        walk = self._dice.gauss(0.0, 0.15 * min(seconds / 60.0, 15.0) ** 0.5)
        self._level += walk - 0.02 * (self._level - 7.0)
        return to_count(min(14.0, max(0.0, self._level + self._dice.gauss(0.0, self._hum))), self._count)


class Shorted:
    """Water in the plug or a pinched cable shorts glass to reference: 0 mV, which is pH 7.00, give or take a count.

    The isopotential point of glass electrodes is made to be pH 7 (common practice; makers' fault tables give "about
    pH 7 whatever the liquid" as the sign of a short).
    """

    def __init__(self, count: float, dice: Dice) -> None:
        self._count, self._dice = count, dice

    def show(self, seconds: float, water_ph: float, shown: float) -> float:
        """pH 7, its last digit alive."""
        step = self._dice.random()
        return to_count(7.0 + self._count * (-1 if step < 0.1 else 1 if step > 0.9 else 0), self._count)
