"""Figures for people, in the units that the configuration sets."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from dawnline.typed.measure import Measure
from dawnline.typed.measures import DEPTH, FEED_RATE, LENGTH, MASS, TEMPERATURE, VOLUME
from dawnline.typed.quantity import Units, show

# Measure, and the unit shown for each setting; a quantity that is not here is shown in its base unit everywhere.
_SHOWN: Final[dict[str, tuple[Measure, dict[Units, str]]]] = {
    measure.name: (measure, {"metric": metric, "us": us, "imperial": imperial})
    for measure, metric, us, imperial in (
        (VOLUME, "L", "gal", "imp gal"),
        (TEMPERATURE, "degC", "degF", "degC"),
        (FEED_RATE, "g/day", "oz/day", "oz/day"),
        (DEPTH, "mm", "in", "in"),
        (LENGTH, "cm", "in", "in"),
    )
}
_SMALL: Final = 0.5  # L: below, a volume is shown in mL or fluid ounces


def shown(value: float, measure: Measure, units: Units = "metric", digits: int = 2) -> str:
    """A figure in the base unit of `measure`, in the unit that `units` sets, with at most so many decimals.

    >>> shown(1135.6235352, VOLUME, "us"), shown(20.0, TEMPERATURE, "us"), shown(4535.9237, MASS, "us")
    ('300 gal', '68 degF', '10 lb')
    """
    if measure is MASS:
        large = value >= (1000.0 if units == "metric" else 453.59237)
        unit = ("kg" if large else "g") if units == "metric" else ("lb" if large else "oz")
    elif measure.name == VOLUME.name and value < _SMALL:
        unit = {"metric": "mL", "us": "fl oz", "imperial": "imp fl oz"}[units]
    elif measure.name in _SHOWN:
        unit = _SHOWN[measure.name][1][units]
    else:
        unit = next(each.name for each in measure.units if each.factor == 1 or len(measure.units) == 1)
    size = abs(float(measure.named(unit).from_base(Fraction(value))))
    text = show(value, measure, unit, max(0, digits - (size >= 10.0) - (size >= 100.0)))
    return text.removesuffix(" pH")
