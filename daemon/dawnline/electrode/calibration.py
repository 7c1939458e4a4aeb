"""A calibration: how what a probe measures becomes pH, fitted from one to three buffer solutions.

One form for both kinds of probe: measured = zero + offset + gain (pH - 7), where a probe of millivolts has zero 0 mV
and gain -k(T) slope / 100 with Nernst's k, and one that delivers finished pH has zero pH 7 and gain slope / 100.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any, Final, NamedTuple

from dawnline.electrode.nernst import NEUTRAL, slope_mv
from dawnline.errors import InputError

MV: Final = "electrode_mv"
MOST_POINTS: Final = 3
STANDARD_C: Final = 25.0


class Point(NamedTuple):
    """One buffer: its pH at the measured temperature, what the probe measured in it [mV or pH], and that [degC]."""

    buffer_ph: float
    measured: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """What holds for a probe from `at` [ms] on; 0 for the ideal one of a probe never calibrated.

    `quantity` is the probe's ("electrode_mv" or "ph"), `slope` in percent of the ideal (of Nernst's for
    millivolts), `offset` what it shows too much at pH 7, in its own unit (mV or pH). One without `points` that is not
    the ideal one was done at the probe's own transmitter, as the act of this `name` says.
    """

    quantity: str
    slope: float = 100.0
    offset: float = 0.0
    at: int = 0
    points: tuple[Point, ...] = ()
    name: str = ""

    def gain(self, temperature_c: float) -> float:
        """Change of what is measured for each pH unit: mV at `temperature_c` [degC], or pH."""
        ideal = -slope_mv(temperature_c) if self.quantity == MV else 1.0
        return ideal * self.slope / 100.0

    def ph(self, measured: float, temperature_c: float) -> float:
        """pH of what the probe measured [mV or pH] at `temperature_c` [degC]."""
        return NEUTRAL + (measured - self._zero - self.offset) / self.gain(temperature_c)

    def measured(self, ph: float, temperature_c: float) -> float:
        """The inverse of `ph`: what the probe would show."""
        return self._zero + self.offset + (ph - NEUTRAL) * self.gain(temperature_c)

    @property
    def _zero(self) -> float:
        return 0.0 if self.quantity == MV else NEUTRAL

    @property
    def zero_point_ph(self) -> float:
        """pH at which the probe shows 0 mV (or pH 7) at 25 degC: the asymmetry as makers state it."""
        return NEUTRAL - self.offset / self.gain(STANDARD_C)

    @property
    def never(self) -> bool:
        """Whether this is the ideal one that nobody measured."""
        return self.at == 0

    def as_json(self) -> dict[str, Any]:
        """As plain JSON values."""
        points = [list(point) for point in self.points]
        plain = {"quantity": self.quantity, "slope": self.slope, "offset": self.offset, "at": self.at, "points": points}
        return plain | ({"name": self.name} if self.name else {})

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Calibration:
        """What `as_json` gave. Raises LookupError, TypeError or ValueError for anything else."""
        points = tuple(Point(*map(float, point)) for point in data["points"])
        slope, offset, name = float(data["slope"]), float(data["offset"]), str(data.get("name", ""))
        return cls(str(data["quantity"]), slope, offset, int(data["at"]), points, name)


IDEAL: Final[dict[str, Calibration]] = {quantity: Calibration(quantity) for quantity in (MV, "ph")}
"""What a probe never calibrated is read by, for each quantity that has a calibration."""


def fit(points: Sequence[Point], at: int, before: Calibration) -> Calibration:
    """The calibration that these buffers give, in place of `before`.

    One point moves the offset and keeps the slope in force; two give both; three give both by least squares.
    Raises InputError for none, for more than three, and for points from which nothing follows.
    """
    if not 1 <= len(points) <= MOST_POINTS:
        raise InputError(f"expected one, two or three buffers, found {len(points)}")
    if not all(isfinite(number) for point in points for number in point):
        raise InputError("expected finite numbers for every buffer")
    ideal = IDEAL[before.quantity]
    xs = [ideal.measured(point.buffer_ph, point.temperature_c) - ideal.measured(NEUTRAL, point.temperature_c)
          for point in points]  # fmt: skip
    ys = [point.measured - ideal.measured(NEUTRAL, point.temperature_c) for point in points]
    mean_x, mean_y = sum(xs) / len(xs), sum(ys) / len(ys)
    slope = before.slope / 100.0
    if len(points) > 1:
        spread = sum((x - mean_x) ** 2 for x in xs)
        if spread < 1e-9:
            raise InputError("the buffers have the same pH: expected different ones, such as 7 and 10")
        slope = sum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True)) / spread
    if abs(slope) < 1e-6:
        raise InputError("the probe shows the same in every buffer: it is broken, or it is not in the buffer")
    return Calibration(before.quantity, 100.0 * slope, mean_y - slope * mean_x, at, tuple(points))
