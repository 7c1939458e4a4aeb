"""The quantities a probe can measure: one unit each, a physical span and the resolution shown."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

_DEGREES: Final = re.compile(r"\bdeg(?=[CF]\b)")


MOST_SHOWN: Final = 1e7  # from here on digits say nothing


@dataclass(frozen=True, slots=True)
class Quantity:
    """One measurable quantity.

    `span` is what the instrument and the water can deliver at all, in `unit`: a value outside it is no
    measurement. `usual` is where a garden pond lives: outside it a value is suspect. `decimals` is how many
    digits are shown.
    """

    name: str
    unit: str
    span: tuple[float, float]
    usual: tuple[float, float]
    decimals: int

    def show(self, value: float) -> str:
        """Value with this quantity's digits and unit.

        >>> QUANTITIES["ph"].show(7.1234), QUANTITIES["temperature"].show(18.04)
        ('pH 7.12', '18.0 degC')
        >>> QUANTITIES["ph"].show(-2.38e29)  # a register read in the wrong order
        'pH -2.38e+29'
        """
        number = f"{value:.{self.decimals}f}" if abs(value) < MOST_SHOWN else f"{value:.3g}"
        return f"{self.unit} {number}" if self.unit == "pH" else f"{number} {self.unit}"


# Spans: common practice, no source, unless a line says otherwise. pH 2 to 12 is the range of ISO 10523:2008
# (glass electrode in fresh water); acid that beats the buffer brings a pond to pH 3 and must not be taken for a fault;
# water is liquid, and a pond never near boiling.
QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        Quantity("ph", "pH", (2.0, 12.0), (3.0, 11.0), 2),
        Quantity("electrode_mv", "mV", (-600.0, 600.0), (-300.0, 300.0), 1),
        Quantity("temperature", "degC", (-5.0, 45.0), (-1.0, 38.0), 1),
        Quantity("dissolved_oxygen", "mg/L", (0.0, 30.0), (0.5, 20.0), 1),
        Quantity("rain", "mm", (0.0, 1e6), (0.0, 1e6), 1),  # a running total; what can fall is judged by fallen.py
    )
}


def degrees(text: str) -> str:
    """A text for a screen or for paper, where a message has plain letters.

    >>> degrees("the water at 18.0 degC")
    'the water at 18.0 \N{DEGREE SIGN}C'
    """
    return _DEGREES.sub("\N{DEGREE SIGN}", text)
