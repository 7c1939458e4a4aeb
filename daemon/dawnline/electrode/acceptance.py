"""Whether a calibration may be kept: published limits of slope, offset, distance and residual, with the reason."""

from __future__ import annotations

from itertools import pairwise
from typing import Final, NamedTuple

from dawnline.electrode.calibration import MV, STANDARD_C, Calibration, fit
from dawnline.electrode.nernst import slope_mv

# 85 to 105 % of Nernst's slope, and 30 mV either way in the buffer of pH 7: the working range as given in "How to
# calculate offset and slope" (studylib.net/doc/25392327). 95 to 102 %: from memory, USGS National Field Manual A6.4.
SLOPE: Final = (85.0, 105.0)
SLOPE_FIT: Final = (95.0, 102.0)
OFFSET_MV: Final = 30.0
# A third buffer after a calibration with two: within 0.1 pH (wastewater101.net, operators' examination, 2019).
RESIDUAL_PH: Final = 0.1
# The same page wants 3 pH between two buffers; phosphate and borax, both primary standards, lie 2.3 apart.
APART_PH: Final = 2.0
HARDLY: Final = 10.0  # percent of the ideal slope, below which nothing else follows from the buffers; no source
TEMPERATURES_C: Final = 5.0  # buffers differ by no more than this: common practice, no source


class Judgement(NamedTuple):
    """Whether it is kept; why not, or what is worth knowing all the same."""

    kept: bool
    reasons: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    def __str__(self) -> str:
        """In words."""
        return "; ".join(self.reasons or self.remarks) or "within the acceptance range"


def judge(calibration: Calibration) -> Judgement:
    """Judge a fitted calibration."""
    reasons, remarks = [], []
    points = sorted(calibration.points)
    if len(points) > 1:
        nearest = min(b.buffer_ph - a.buffer_ph for a, b in pairwise(points))
        if nearest < APART_PH:
            reasons.append(f"two buffers lie {nearest:.2f} pH apart, expected {APART_PH:g} at least")
        reasons += _slope(calibration.slope)
        if not reasons and not SLOPE_FIT[0] <= calibration.slope <= SLOPE_FIT[1]:
            remarks.append(f"the slope of {calibration.slope:.1f} % is usable; {SLOPE_FIT[0]:g} to {SLOPE_FIT[1]:g} "
                           "is that of a healthy probe")  # fmt: skip
        warmth = [point.temperature_c for point in points]
        if max(warmth) - min(warmth) > TEMPERATURES_C:
            remarks.append(f"the buffers differ by {max(warmth) - min(warmth):.1f} degC; better at one temperature")
    if calibration.slope >= HARDLY:
        reasons += _offset(calibration)
    if len(points) == 3 and not reasons:
        off = residual(calibration)
        if abs(off) > RESIDUAL_PH:
            reasons.append(
                f"the middle buffer reads {off:+.2f} pH off the line through the others, at most {RESIDUAL_PH:g} is "
                "accepted: a buffer is spoilt, or the probe had not settled"
            )
    return Judgement(not reasons, tuple(reasons), tuple(remarks))


def residual(calibration: Calibration) -> float:
    """How far the middle of three buffers reads from its value [pH], by the line through the outer two."""
    low, middle, high = sorted(calibration.points)
    line = fit((low, high), calibration.at, calibration)
    return line.ph(middle.measured, middle.temperature_c) - middle.buffer_ph


def _slope(slope: float) -> list[str]:
    if abs(slope) < HARDLY:
        return ["the probe shows nearly the same in every buffer: did it stand in each of them? A broken bulb or a wet "
                "plug does this, too"]  # fmt: skip
    if slope < 0:
        return ["the probe falls where it should rise: were the buffers swapped, or its wires?"]
    if not SLOPE[0] <= slope <= SLOPE[1]:
        remedy = "clean it and try again; if that does not help, it is worn out" if slope < SLOPE[0] else (
            "take fresh buffers and let the probe settle")  # fmt: skip
        return [f"the slope is {slope:.1f} % of the ideal, accepted are {SLOPE[0]:g} to {SLOPE[1]:g}: {remedy}"]
    return []


def _offset(calibration: Calibration) -> list[str]:
    limit, unit = OFFSET_MV, "mV"
    if calibration.quantity != MV:
        limit, unit = OFFSET_MV / slope_mv(STANDARD_C), "pH"
    if abs(calibration.offset) <= limit:
        return []
    return [
        f"the offset at pH 7 is {calibration.offset:+.3g} {unit}, accepted are {limit:.2g} {unit} either way: "
        "clean the probe and see that it stood in the buffer that was named"
    ]
