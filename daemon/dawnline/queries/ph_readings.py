"""A probe's good readings as pH, out of the store: by the calibration that held, and the water's warmth, back then."""

from __future__ import annotations

from collections.abc import Iterator

from dawnline.duration import DAY_MS
from dawnline.electrode.calibration import STANDARD_C
from dawnline.electrode.layer import Layer
from dawnline.probes.settings import ProbeSettings
from dawnline.store.reader import Reader


def ph_readings(
    reader: Reader, probe: ProbeSettings, layer: Layer, start: int, end: int
) -> Iterator[tuple[int, float]]:
    """Time [ms] and pH of the good readings from `start` to `end`, as they were shown then."""
    warmth = reader.good(probe.temperature, start - DAY_MS, end) if probe.temperature else iter(())
    celsius, ahead = STANDARD_C, next(warmth, None)
    for at, measured in reader.good(probe.name, start, end):
        while ahead is not None and ahead[0] <= at:
            celsius, ahead = ahead[1], next(warmth, None)
        held = layer.in_force(at)
        yield at, measured if held.never and held.quantity == "ph" else held.ph(measured, celsius)
