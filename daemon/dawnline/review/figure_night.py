"""A picture of one night: pH, the lower limits, the dark hours, and what was told when. Plain SVG."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Transition
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.outlook.sun import Sun
from dawnline.review.plot import Frame, Shape, figure, head, levels, limit, line, nights, path, text
from dawnline.review.words import clock

WIDTH: Final = 860
HEIGHT: Final = 380
SHAPE: Final = Shape(WIDTH, HEIGHT, 56, 18, 44, 40)


def night_svg(
    points: Sequence[tuple[int, float]],
    transitions: Sequence[Transition],
    pond: PondSettings,
    limits: LimitSettings,
) -> str:
    """The picture as a text. `points` are (Unix ms, pH) in order of time. Raises ValueError without any."""
    if not points:
        raise ValueError("there is no reading to draw")
    thin = _by_minute(points)
    values = [value for _, value in thin]
    frame = Frame(SHAPE, (thin[0][0], thin[-1][0]), (min(5.8, min(values) - 0.1), max(values) + 0.15))
    day = f"{datetime.fromtimestamp(thin[0][0] / 1000, pond.zone):%d %B %Y}"
    parts = [
        *nights(frame, Sun(pond.latitude, pond.longitude, pond.zone)),
        *_hours(frame, pond.zone),
        *levels(frame, lambda value: f"{value:.1f}"),
        *limit(frame, limits.ph_low, f"low {limits.ph_low:g}"),
        *limit(frame, limits.ph_crash, f"crash {limits.ph_crash:g}"),
        line(frame, thin, "ph"),
        *_told(frame, transitions, pond.zone),
        head(frame, f"{pond.name}, night of {day}: pH", 22),
    ]
    return figure(SHAPE, f"{pond.name}: pH in the night of {day}", parts, alone=True)


def _by_minute(points: Sequence[tuple[int, float]]) -> list[tuple[int, float]]:
    """The mean of every two minutes: the line stays small, and true to its shape."""
    minutes: dict[int, list[float]] = {}
    for at, value in points:
        minutes.setdefault(at // (2 * MINUTE_MS), []).append(value)
    return [(minute * 2 * MINUTE_MS + MINUTE_MS, sum(v) / len(v)) for minute, v in minutes.items()]


def _hours(frame: Frame, zone: tzinfo) -> list[str]:
    first = datetime.fromtimestamp(frame.times[0] / 1000, zone)
    at = round((first.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)).timestamp() * 1000)
    parts = []
    while at <= frame.times[1]:
        x = frame.x(at)
        hour = clock(at, zone)
        parts += [path(f"M{x:.1f} {frame.bottom}v5", "edge"), text(x, frame.bottom + 24, hour, "mid soft")]
        at += HOUR_MS
    return parts


def _told(frame: Frame, transitions: Sequence[Transition], zone: tzinfo) -> list[str]:
    """A mark for each alarm raised, with its hour and name."""
    parts: list[str] = []
    raised = [each for each in transitions if each.change == "raised" and frame.times[0] <= each.at <= frame.times[1]]
    for place, each in enumerate(raised):
        x, y = frame.x(each.at), frame.top + 16 + 18 * (place % 4)
        hour = clock(each.at, zone)
        parts += [
            path(f"M{x:.1f} {y - 10:.1f}V{frame.bottom}", "mark"),
            text(x + 5, y, f"{hour} {each.alarm}", "mark-name"),
        ]
    return parts
