"""A glass electrode at the end of a long wire: millivolts instead of pH, by Nernst's equation as a textbook has it.

Written from the equation, not with the service's own code, or both would share a mistake: E = E7 - s (pH - 7) with
s = 0.198416 mV/K times the temperature in kelvin, times the electrode's slope.
"""

from __future__ import annotations

from typing import NamedTuple

from dawnline_simulator.simulate import Row


class Electrode(NamedTuple):
    """`slope` in percent of the ideal, `offset_mv` what it gives at pH 7."""

    slope: float = 97.0
    offset_mv: float = -6.0

    def millivolts(self, ph: float, temperature_c: float) -> float:
        """What it gives [mV].

        >>> round(Electrode(100.0, 0.0).millivolts(8.0, 25.0), 2)
        -59.16
        """
        return self.offset_mv - self.slope / 100.0 * 0.198416 * (temperature_c + 273.15) * (ph - 7.0)

    def line(self, row: Row) -> bytes:
        r"""The bytes of one reading.

        >>> from dawnline_simulator.simulate import Truth
        >>> Electrode(100.0, 0.0).line(Row(0, 7.2, 18.4, "whole", Truth(7.2, 18.4, 1.0, 100.0), ""))
        b'mv=-11.6 temp=18.40\n'
        """
        return f"mv={self.millivolts(row.ph, row.water):.1f} temp={row.water:.2f}\n".encode("ascii")


def parse_electrode(text: str) -> Electrode:
    """The electrode of "SLOPE,OFFSET", such as "97,-6". Raises ValueError for anything else."""
    try:
        slope, offset = (float(part) for part in text.split(","))
    except ValueError:
        slope = offset = float("nan")
    if not (10.0 <= slope <= 200.0 and -200.0 <= offset <= 200.0):
        raise ValueError(f"expected SLOPE,OFFSET in percent and mV, such as 97,-6, found {text!r}")
    return Electrode(slope, offset)
