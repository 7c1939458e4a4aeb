"""The history of a probe's calibrations: its slope, and what each visit found it to read too much."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from dawnline.duration import DAY_MS
from dawnline.electrode.calibration import STANDARD_C, Calibration
from dawnline.electrode.layer import Layer
from dawnline.review.plot import Frame, Shape, day_axis, figure, head, levels, limit, line, text
from dawnline.review.week import Week

WORN_SLOPE: Final = 90.0  # percent: `calibration-due` says so below
MARGIN_MS: Final = 3 * DAY_MS


def care_figure(week: Week, layer: Layer, shape: Shape) -> str:
    """Slope [percent of the ideal] and offset [pH at pH 7], one above the other. Empty where nobody calibrated."""
    held = [each for each in layer.calibrations if each.at < week.stretch.end]
    if not held:
        return ""
    upper = shape._replace(height=round(shape.height * 0.55), top=28, bottom=12)
    whole = shape._replace(height=round(shape.height * 0.95))
    lower = whole._replace(top=upper.height + 14)
    times = held[0].at - MARGIN_MS, max(week.stretch.end, held[-1].at) + MARGIN_MS
    slopes = [(each.at, each.slope) for each in held]
    offsets = [(each.at, _offset(each)) for each in held]
    low, high = min(86.0, *(s for _, s in slopes)) - 2, max(102.0, *(s for _, s in slopes)) + 2
    least, most = min(-0.1, *(o for _, o in offsets)), max(0.1, *(o for _, o in offsets))
    above, below = Frame(upper, times, (low, high)), Frame(lower, times, (least * 1.2, most * 1.2))
    parts = [
        *levels(above, lambda value: f"{value:g}", most=4),
        *limit(above, WORN_SLOPE, "worn: 90 %"),
        *_steps(above, slopes, times[1]),
        *levels(below, lambda value: f"{value:+.1f}", most=4),
        *_steps(below, offsets, times[1]),
        *day_axis(below, week.zone),
        head(above, f"Calibrations, {layer.probe}: slope [%]"),
        text(below.left, lower.top - 7, "offset at pH 7 [pH]", "soft"),
    ]
    return figure(whole, f"{week.pond}: calibrations of {layer.probe}", parts)


def _steps(frame: Frame, points: Sequence[tuple[int, float]], end: int) -> list[str]:
    """A value that holds until the next one, with a dot where it began."""
    course: list[tuple[float, float]] = []
    for (at, value), until in zip(points, [*(at for at, _ in points[1:]), end], strict=True):
        course += [(float(at), value), (float(until), value)]
    dots = [f'<circle cx="{frame.x(at):.1f}" cy="{frame.y(v):.1f}" r="4" class="dot"/>' for at, v in points]
    return [line(frame, course, "ph"), *dots]


def _offset(calibration: Calibration) -> float:
    """What it shows too much at pH 7, in pH at 25 degC."""
    return calibration.offset / calibration.gain(STANDARD_C)
