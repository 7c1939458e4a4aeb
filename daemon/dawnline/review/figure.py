"""A picture of one night: pH, the lower limits, the dark hours, and what was told when. Plain SVG."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from html import escape
from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.event import Transition
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.outlook.sun import Sun

WIDTH: Final = 860
HEIGHT: Final = 380
LEFT, RIGHT, TOP, BOTTOM = 56, 18, 44, 40
INK, WATER, DARK, LIMIT, TOLD = "#1d2a33", "#0b6e8f", "#dfe5ec", "#b4531a", "#7a1f5c"


class Frame:
    """Turns times and pH into places on the picture."""

    def __init__(self, times: tuple[int, int], values: tuple[float, float]) -> None:
        self.times, self.values = times, values

    def x(self, at: int) -> float:
        """Left to right by time."""
        first, last = self.times
        return LEFT + (WIDTH - LEFT - RIGHT) * (at - first) / max(1, last - first)

    def y(self, value: float) -> float:
        """Bottom to top by pH."""
        low, high = self.values
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value - low) / (high - low)


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
    frame = Frame((thin[0][0], thin[-1][0]), (min(5.8, min(values) - 0.1), max(values) + 0.15))
    zone = pond.zone
    day = f"{datetime.fromtimestamp(thin[0][0] / 1000, zone):%d %B %Y}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        'font-family="system-ui, sans-serif" font-size="13">',
        f"<title>{escape(pond.name)}: pH in the night of {day}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fbfcfd"/>',
        *_dark(frame, pond),
        *_hours(frame, pond.zone),
        *_levels(frame, limits),
        _line(frame, thin),
        *_told(frame, transitions, pond.zone),
        f'<text x="{LEFT}" y="22" font-size="15" fill="{INK}">{escape(pond.name)}, night of {day}: pH</text>',
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _by_minute(points: Sequence[tuple[int, float]]) -> list[tuple[int, float]]:
    """The mean of every two minutes: the line stays small, and true to its shape."""
    minutes: dict[int, list[float]] = {}
    for at, value in points:
        minutes.setdefault(at // (2 * MINUTE_MS), []).append(value)
    return [(minute * 2 * MINUTE_MS + MINUTE_MS, sum(v) / len(v)) for minute, v in minutes.items()]


def _dark(frame: Frame, pond: PondSettings) -> list[str]:
    """The hours between sunset and sunrise."""
    sun = Sun(pond.latitude, pond.longitude, pond.zone)
    first, last = sun.day_at(frame.times[0]), sun.day_at(frame.times[1])
    dark = [(first.start, first.sunrise), (first.sunset, last.sunrise if last != first else first.end)]
    parts = []
    for begin, end in dark:
        left, right = (frame.x(min(max(at, frame.times[0]), frame.times[1])) for at in (begin, end))
        if right > left:
            size = f'width="{right - left:.1f}" height="{HEIGHT - TOP - BOTTOM}"'
            parts.append(f'<rect x="{left:.1f}" y="{TOP}" {size} fill="{DARK}"/>')
    return parts


def _hours(frame: Frame, zone: tzinfo) -> list[str]:
    first = datetime.fromtimestamp(frame.times[0] / 1000, zone)
    at = round((first.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)).timestamp() * 1000)
    parts = []
    while at <= frame.times[1]:
        x = frame.x(at)
        hour = f"{datetime.fromtimestamp(at / 1000, zone):%H:%M}"
        parts.append(f'<path d="M{x:.1f} {HEIGHT - BOTTOM}v5" stroke="{INK}"/>')
        parts.append(f'<text x="{x:.1f}" y="{HEIGHT - 16}" text-anchor="middle" fill="{INK}">{hour}</text>')
        at += HOUR_MS
    return parts


def _levels(frame: Frame, limits: LimitSettings) -> list[str]:
    parts = []
    low, high = frame.values
    level = round(low * 2 + 0.499) / 2
    while level <= high:
        y = frame.y(level)
        parts.append(f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="#c3ccd5" stroke-width="0.6"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end" fill="{INK}">{level:.1f}</text>')
        level += 0.5
    for limit, name in ((limits.ph_low, "low"), (limits.ph_crash, "crash")):
        y = frame.y(limit)
        parts.append(f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="{LIMIT}" stroke-dasharray="6 4"/>')
        parts.append(f'<text x="{LEFT + 6}" y="{y - 5:.1f}" fill="{LIMIT}">{name} {limit:g}</text>')
    return parts


def _line(frame: Frame, points: Sequence[tuple[int, float]]) -> str:
    places = " ".join(f"{frame.x(at):.1f},{frame.y(value):.1f}" for at, value in points)
    return f'<polyline points="{places}" fill="none" stroke="{WATER}" stroke-width="2"/>'


def _told(frame: Frame, transitions: Sequence[Transition], zone: tzinfo) -> list[str]:
    """A mark for each alarm raised, with its hour and name."""
    parts: list[str] = []
    raised = [each for each in transitions if each.change == "raised" and frame.times[0] <= each.at <= frame.times[1]]
    for place, each in enumerate(raised):
        x, y = frame.x(each.at), TOP + 16 + 18 * (place % 4)
        hour = f"{datetime.fromtimestamp(each.at / 1000, zone):%H:%M}"
        parts.append(f'<path d="M{x:.1f} {y - 10:.1f}V{HEIGHT - BOTTOM}" stroke="{TOLD}" stroke-dasharray="2 3"/>')
        parts.append(f'<text x="{x + 5:.1f}" y="{y:.1f}" fill="{TOLD}">{hour} {each.alarm}</text>')
    return parts
