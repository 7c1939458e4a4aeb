"""The picture of a buffer that runs out: pH looks calm, 10^pH is on its line, and what was foreseen eight days before.

    python tests/benchmarks/foresight/picture.py simulator/buffer.svg [--seed 6]

A pond of the ordinary model on a development seed, its readings through the whole watch.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import zip_longest
from math import log10
from pathlib import Path
from typing import NamedTuple

import buffer_told
from sunlight import local_date, night_before
from watching import watch
from world import DAY_MS, HOUR_MS

from dawnline.outlook.buffer_course import warm_days, zeal
from dawnline.outlook.buffer_line import BufferLine, Outlook
from dawnline.outlook.buffer_odds import Likely
from dawnline.outlook.buffer_steps import judged

AHEAD = 8
LIMIT = 10.0**6.5
WIDTH, HEIGHT = 860, 560
LEFT, RIGHT = 64, 18
UPPER, LOWER = (52, 236), (286, 504)  # top and bottom of both panels
INK, WATER, FORETOLD, BAND, TRUE, LINE = "#1d2a33", "#0b6e8f", "#7a1f5c", "#ead9e5", "#b4531a", "#c3ccd5"


class Path10(NamedTuple):
    """10^(dawn low) on days from the forecast on: at 10, 50 and 90 % of all courses, each by its weight."""

    low: list[float]
    middle: list[float]
    high: list[float]


class Told(NamedTuple):
    """What is drawn."""

    begin: int
    end: int
    ph: list[tuple[int, float]]
    lows: list[tuple[int, float, float | None]]  # with the line, as fitted on the day of the forecast
    today: int  # when it was made
    ahead: Path10
    day: date
    dates: list[date | None]  # the earliest, the likeliest, the latest day foreseen
    noons: dict[date, int]


def told(seed: int) -> Told:
    """The story of a seed; the forecast is that of AHEAD days before the true dawn low passes 6.5."""
    case = buffer_told.tell("easy", seed)
    if case is None:
        raise SystemExit(f"the pond of seed {seed} does not run out in time")
    readings, place, day = case.readings["alone"], case.place, case.truth["day"]
    nights = watch(place, readings.samples(), (), case.volume_litres).nights
    line, outlook, today = BufferLine(6.5), Outlook(), 0
    for at, low, water_c in nights:
        if (day - local_date(at, place)).days >= AHEAD:
            outlook, today = line.night(at, low, water_c), at
    odds, _ = judged(line.diary)
    on = local_date(today, place)
    dates = [None if n is None else on + timedelta(days=n) for n in (outlook.earliest, outlook.central, outlook.latest)]
    span = [on + timedelta(days=n) for n in range(-40, 25)]
    noons = {each: night_before(each, place).midnight + 12 * HOUR_MS for each in span}
    begin = readings.begin + DAY_MS  # the first day the new water settles
    ph = [row for row in readings.ph_rows() if row[0] >= begin]
    lows = [(at, low, fit) for (at, low, _), fit in zip_longest(nights, outlook.fitted) if at >= begin]
    ahead = _ahead(odds.likely, warm_days(1.0, line.diary.water_c))
    return Told(begin, night_before(day, place).over + DAY_MS // 2, ph, lows, today, ahead, day, dates, noons)


def _ahead(likely: Sequence[Likely], pace: float) -> Path10:
    paths = []
    for row in likely:
        share, ph, path = 1.0, row.fit.level, [10.0**row.fit.level]
        for _ in range(AHEAD + 4):
            share = max(row.course.after(share, pace * zeal(ph)), 0.0) if share else 0.0
            ph = row.fit.level + log10(share) if share else 0.0
            path.append(10.0**ph if share else 0.0)
        paths.append((row.weight, path))

    def at(day: int, odds: float) -> float:
        total = 0.0
        for weight, path in sorted(paths, key=lambda row: row[1][day]):
            total += weight
            if total >= odds:
                return path[day]
        return max(path[day] for _, path in paths)

    days = range(AHEAD + 5)
    return Path10(*([at(day, odds) for day in days] for odds in (0.1, 0.5, 0.9)))


class Panel:
    """Places on one of the panels."""

    def __init__(self, story: Told, edges: tuple[int, int], values: tuple[float, float]) -> None:
        self.begin, self.end = story.begin, story.end
        self.top, self.bottom = edges
        self.values = values

    def x(self, at: float) -> float:
        """Left to right by time."""
        return LEFT + (WIDTH - LEFT - RIGHT) * (min(at, self.end) - self.begin) / (self.end - self.begin)

    def y(self, value: float) -> float:
        """Bottom to top by value."""
        low, high = self.values
        return self.bottom - (self.bottom - self.top) * (value - low) / (high - low)

    def line(self, points: Sequence[tuple[float, float]], style: str) -> str:
        """Through points."""
        places = " ".join(f"{self.x(at):.1f},{self.y(value):.1f}" for at, value in points)
        return f'<polyline points="{places}" fill="none" {style}/>'

    def level(self, value: float, name: str, style: str) -> str:
        """A line from left to right, with its name at the left."""
        y = self.y(value)
        text = f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end" fill="{INK}">{name}</text>'
        return f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" {style}/>{text}'


def svg(story: Told) -> str:
    """The picture as a text."""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        'font-family="system-ui, sans-serif" font-size="13">',
        "<title>A buffer that runs out: pH, and 10^pH of the dawn lows with the forecast of eight days before</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fbfcfd"/>',
        *_upper(story),
        *_lower(story),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _title(y: int, text: str) -> str:
    return f'<text x="{LEFT}" y="{y}" font-size="15" fill="{INK}">{text}</text>'


def _upper(story: Told) -> list[str]:
    hours: dict[int, list[float]] = {}
    for at, value in story.ph:
        hours.setdefault(at // HOUR_MS, []).append(value)
    points = [(hour * HOUR_MS + HOUR_MS / 2, sorted(values)[len(values) // 2]) for hour, values in hours.items()]
    panel = Panel(story, UPPER, (6.2, max(value for _, value in points) + 0.1))
    grid = f'stroke="{LINE}" stroke-width="0.6"'
    levels = [n / 2 for n in range(13, 20) if panel.values[0] < n / 2 < panel.values[1]]
    return [
        _title(32, "pH: a little lower each day"),
        *(panel.level(level, f"{level:.1f}", grid) for level in levels),
        panel.level(6.5, "", f'stroke="{TRUE}" stroke-dasharray="6 4"'),
        panel.line(points, f'stroke="{WATER}" stroke-width="1.3"'),
        *_marks(story, panel),
    ]


def _lower(story: Told) -> list[str]:
    panel = Panel(story, LOWER, (0.0, 1.1 * max(10.0**low for _, low, _ in story.lows)))
    known = [(at, 10.0**low) for at, low, _ in story.lows if at <= story.today]
    came = [(at, 10.0**low) for at, low, _ in story.lows if at > story.today]
    fitted = [(at, 10.0**fit) for at, _, fit in story.lows if fit is not None]
    days = [story.today + n * DAY_MS for n in range(len(story.ahead.low))]
    band = list(zip(days, story.ahead.low, strict=True)) + list(zip(days, story.ahead.high, strict=True))[::-1]
    level = 5e6
    grid = f'stroke="{LINE}" stroke-width="0.6"'
    millions = [n * level for n in range(20) if n * level < panel.values[1]]
    first, central, last = story.dates
    named = f"{central:%a} {central.day} {central:%b}" if central else "no day yet"
    span = f"{first:%a} {first.day} to {last:%a} {last.day} {last:%b}" if first and last else "no range yet"
    return [
        _title(266, "10^pH of the dawn lows, millions: on a line to zero"),
        *(panel.level(value, f"{value / 1e6:.0f}", grid) for value in millions),
        panel.line(band, f'stroke="none" style="fill:{BAND}"'),
        panel.level(LIMIT, "", f'stroke="{TRUE}" stroke-dasharray="6 4"'),
        panel.line(fitted, f'stroke="{FORETOLD}" stroke-width="1.5"'),
        panel.line(list(zip(days, story.ahead.middle, strict=True)),
                   f'stroke="{FORETOLD}" stroke-width="1.5" stroke-dasharray="5 4"'),
        *(_dot(panel, point, WATER) for point in known),
        *(_dot(panel, point, "#ffffff") for point in came),
        *_marks(story, panel),
        *_dates(story, panel),
        f'<text x="{LEFT + 6}" y="{panel.y(LIMIT) - 5:.1f}" fill="{TRUE}">pH 6.5</text>',
        _said(LOWER[0] + 14, FORETOLD, f"foreseen: {named} ({span})"),
        _said(LOWER[0] + 32, INK, f"came: {story.day:%a} {story.day.day} {story.day:%b} (hollow dots)"),
    ]  # fmt: skip


def _said(y: int, colour: str, text: str) -> str:
    return f'<text x="{WIDTH - RIGHT - 44}" y="{y}" text-anchor="end" fill="{colour}">{text}</text>'


def _dot(panel: Panel, point: tuple[float, float], fill: str) -> str:
    return (
        f'<circle cx="{panel.x(point[0]):.1f}" cy="{panel.y(point[1]):.1f}" r="4" fill="{fill}" '
        f'stroke="{WATER}" stroke-width="1.5"/>'
    )


def _marks(story: Told, panel: Panel) -> list[str]:
    """Where the forecast was made, and where the true dawn low passed the limit."""
    made, passed = panel.x(story.today), panel.x(story.noons[story.day] - 7 * HOUR_MS)
    return [
        f'<path d="M{made:.1f} {panel.top}V{panel.bottom}" stroke="{FORETOLD}" stroke-dasharray="2 3"/>',
        f'<path d="M{passed:.1f} {panel.top}V{panel.bottom}" stroke="{TRUE}" stroke-width="1.5"/>',
    ]


def _dates(story: Told, panel: Panel) -> list[str]:
    parts = []
    for on, noon in story.noons.items():
        if story.begin < noon < story.end and on.day % 2 == 0:
            x = panel.x(noon)
            parts.append(f'<path d="M{x:.1f} {panel.bottom}v5" stroke="{INK}"/>')
            text = f"{on.day} {on:%b}" if on.day in (2, 16) or len(parts) == 1 else f"{on.day}"
            parts.append(f'<text x="{x:.1f}" y="{panel.bottom + 20}" text-anchor="middle" fill="{INK}">{text}</text>')
    return parts


def main() -> None:
    """Write the picture."""
    parser = argparse.ArgumentParser(prog="picture", description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--seed", type=int, default=6)
    args = parser.parse_args()
    args.out.write_text(svg(told(args.seed)), encoding="utf-8")


if __name__ == "__main__":
    main()
