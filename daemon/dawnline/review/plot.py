"""Drawing plain SVG: a frame that turns times and values into places, and what every figure is made of."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, time, timedelta, tzinfo
from html import escape
from math import ceil, floor, log10
from typing import Final, NamedTuple

from dawnline.duration import MINUTE_MS, local_date, local_ms
from dawnline.outlook.sun import Sun
from dawnline.review.look import FIGURE_STYLE

HEAD_PX: Final = 9  # room that a letter of a heading needs, rather wide ones
LABEL_PX: Final = 52  # room that the label of a day needs
CLOCK_PX: Final = 60  # room that a time of day needs
CLOCK: Final = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360)  # minutes between two of them
MOST_NIGHTS: Final = 70  # more are not told apart
MOST_LEVELS: Final = 6


class Shape(NamedTuple):
    """The size of a figure and its margins [px]."""

    width: int
    height: int
    left: int = 44
    right: int = 12
    top: int = 46
    bottom: int = 34


WIDE: Final = Shape(880, 300)
NARROW: Final = Shape(352, 250, left=34, right=8)


class Frame:
    """Turns times [ms] and values into places on the picture."""

    def __init__(self, shape: Shape, times: tuple[int, int], values: tuple[float, float]) -> None:
        self.shape, self.times, self.values = shape, times, values
        self.left, self.right = shape.left, shape.width - shape.right
        self.top, self.bottom = shape.top, shape.height - shape.bottom

    def x(self, at: float) -> float:
        """Left to right by time."""
        first, last = self.times
        return self.left + (self.right - self.left) * (at - first) / max(1, last - first)

    def y(self, value: float) -> float:
        """Bottom to top by value."""
        low, high = self.values
        return self.bottom - (self.bottom - self.top) * (value - low) / (high - low)

    def within(self, at: float) -> float:
        """`x`, kept between the edges."""
        return min(max(self.x(at), self.left), self.right)

    def holds(self, value: float) -> bool:
        """Whether a value lies on the picture."""
        return self.values[0] <= value <= self.values[1]


def figure(shape: Shape, title: str, parts: Iterable[str], *, alone: bool = False, over: Frame | None = None) -> str:
    """The parts as one picture; `alone` gives it its own style and paper, for a file of its own.

    `title` is what a screen reader says. `over` is the frame of a picture that runs over
    time: it says which time lies where, for whoever picks a stretch out of it.
    """
    style = f"<style>{FIGURE_STYLE}</style>" if alone else ""
    paper = f'<rect class="paper" width="{shape.width}" height="{shape.height}"/>' if alone else ""
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {shape.width} {shape.height}" role="img"'
    if over is not None:
        (first, last), edges = over.times, f'data-left="{over.left}" data-right="{over.right}"'
        head += f' data-first="{first}" data-last="{last}" {edges}'
    return "\n".join([f'{head} class="fig">', f"<title>{escape(title)}</title>{style}{paper}", *parts, "</svg>\n"])


def text(x: float, y: float, words: str, kind: str = "") -> str:
    """Words at a place."""
    return f'<text x="{x:.1f}" y="{y:.1f}"{_class(kind)}>{escape(words)}</text>'


def head(frame: Frame, words: str, y: float = 17) -> str:
    """The heading of a picture, cut to the room there is; its whole title is what a screen reader says."""
    room = int((frame.shape.width - frame.left) / HEAD_PX)
    return text(frame.left, y, words if len(words) <= room else f"{words[: room - 1]}\N{HORIZONTAL ELLIPSIS}", "head")


def path(drawn: str, kind: str) -> str:
    """A path."""
    return f'<path d="{drawn}" class="{kind}"/>'


def box(x0: float, x1: float, y0: float, y1: float, kind: str, *, name: str = "") -> str:
    """A rectangle between two places; `name` is shown where a pointer rests on it."""
    size = f'width="{max(x1 - x0, 0.6):.1f}" height="{y1 - y0:.1f}"'
    return f'<rect x="{x0:.1f}" y="{y0:.1f}" {size} class="{kind}"' + (
        f"><title>{escape(name)}</title></rect>" if name else "/>"
    )


def _class(kind: str) -> str:
    return f' class="{kind}"' if kind else ""


def line(frame: Frame, points: Sequence[tuple[float, float]], kind: str, longest: float | None = None) -> str:
    """Points joined by a line, broken where there is nothing for longer than `longest` ms."""
    pieces: list[list[str]] = []
    before: float | None = None
    for at, value in points:
        if before is None or (longest is not None and at - before > longest):
            pieces.append([])
        pieces[-1].append(f"{frame.x(at):.1f} {frame.y(value):.1f}")
        before = at
    lone = [f"M{piece[0]}h.1" if len(piece) == 1 else "M" + "L".join(piece) for piece in pieces]
    return path("".join(lone), kind)


def ribbon(frame: Frame, ends: Sequence[tuple[float, float, float]], kind: str, longest: float) -> str:
    """The room between the lowest and the highest of each moment, as (time, low, high); broken like `line`."""
    pieces: list[list[tuple[float, float, float]]] = []
    for each in ends:
        if not pieces or each[0] - pieces[-1][-1][0] > longest:
            pieces.append([])
        pieces[-1].append(each)
    drawn = []
    for piece in pieces:
        up = [f"{frame.x(at):.1f} {frame.y(high):.1f}" for at, _, high in piece]
        down = [f"{frame.x(at):.1f} {frame.y(low):.1f}" for at, low, _ in reversed(piece)]
        drawn.append("M" + "L".join(up + down) + "Z")
    return path("".join(drawn), kind)


def levels(frame: Frame, show: Callable[[float], str], most: int = MOST_LEVELS) -> list[str]:
    """Rules across at round values, with their numbers on the left."""
    return [
        part
        for value in _round_values(frame.values, most)
        for part in (path(f"M{frame.left} {frame.y(value):.1f}H{frame.right}", "rule"),
                     label(frame, frame.y(value), show(value)))
    ]  # fmt: skip


def ph_levels(frame: Frame) -> list[str]:
    """The same for pH, with as many decimals as tell one from the next."""
    found = _round_values(frame.values, MOST_LEVELS)
    fine = len(found) > 1 and found[1] - found[0] < 0.099
    return levels(frame, lambda value: f"{value:.{2 if fine else 1}f}")


def _round_values(values: tuple[float, float], most: int) -> list[float]:
    low, high = values
    step = _round_step(high - low, most)
    return [number * step for number in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)]


def _round_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5, 10 ... that goes into `span` not more often than `most` times."""
    ten = 10.0 ** floor(log10(span / most))
    return next(step * ten for step in (1, 2, 5, 10, 20) if span / (step * ten) <= most)


def label(frame: Frame, y: float, words: str) -> str:
    """A number at the left edge."""
    return text(frame.left - 6, y + 4, words, "end soft")


def limit(frame: Frame, value: float, words: str) -> list[str]:
    """A limit with its name, where it lies on the picture."""
    if not frame.holds(value):
        return []
    y = frame.y(value)
    return [
        path(f"M{frame.left} {y:.1f}H{frame.right}", "limit"),
        text(frame.left + 5, y - 4 if y - 14 > frame.top else y + 13, words, "limit-name"),
    ]


class Span(NamedTuple):
    """One local day [ms]."""

    date: date
    start: int
    end: int


def days_of(frame: Frame, zone: tzinfo) -> list[Span]:
    """The local days that a frame shows: 23, 24 or 25 hours each."""
    on = local_date(frame.times[0], zone)
    days: list[Span] = []
    while not days or days[-1].end < frame.times[1]:
        days.append(Span(on, local_ms(on, zone), local_ms(on + timedelta(days=1), zone)))
        on += timedelta(days=1)
    return days


def nights(frame: Frame, sun: Sun) -> list[str]:
    """The hours between sunset and sunrise."""
    days = days_of(frame, sun.zone)
    if len(days) > MOST_NIGHTS:
        return []
    light = [sun.day(each.date) for each in days]
    ends = [frame.times[0], *(at for day in light for at in (day.sunrise, day.sunset)), frame.times[1]]
    parts = []
    for begin, end in zip(ends[::2], ends[1::2], strict=True):
        x0, x1 = frame.within(begin), frame.within(end)
        if x1 > x0:
            parts.append(box(x0, x1, frame.top, frame.bottom, "dark"))
    return parts


def day_axis(frame: Frame, zone: tzinfo, *, by_clock: bool = True) -> list[str]:
    """A tick at each local midnight and the names of the days, as many as there is room for; or times of day, where
    they say anything (`by_clock`).
    """
    days = days_of(frame, zone)
    parts = [path(f"M{frame.left} {frame.bottom}H{frame.right}", "edge")]
    a_minute = (frame.right - frame.left) * MINUTE_MS / max(1, frame.times[1] - frame.times[0])
    apart = next((each for each in CLOCK if each * a_minute >= CLOCK_PX), None)
    if apart is not None and by_clock:
        return parts + [part for day in days for part in _clock(frame, zone, day, apart)]
    room = (frame.right - frame.left) / max(1, len(days))
    every = max(1, ceil(LABEL_PX / room))
    for number, day in enumerate(days):
        if (room > 6 or number % every == 0) and frame.times[0] <= day.start:
            parts.append(path(f"M{frame.within(day.start):.1f} {frame.bottom}v5", "edge"))
        if number % every == 0:
            middle = (frame.within(day.start) + frame.within(day.end)) / 2
            if every > 1:  # the name of a day among several stands where that day begins
                middle = min(frame.within(day.start), frame.right - 16)
            parts.append(text(middle, frame.bottom + 19, day_name(day.date, every), "mid soft"))
    return parts


def _clock(frame: Frame, zone: tzinfo, day: Span, apart: int) -> list[str]:
    """A tick every so many minutes by the local clock, the hour that comes twice included; at midnight the day. Of two
    that are near each other, since the hour comes twice, the first is named.
    """
    parts: list[str] = []
    named = float("-inf")
    for minute in range(0, 24 * 60, apart):
        local = datetime.combine(day.date, time(minute // 60, minute % 60), zone)
        for at in sorted({round(local.replace(fold=fold).timestamp() * 1000) for fold in (0, 1)}):
            shown = datetime.fromtimestamp(at / 1000, zone)
            if not frame.times[0] <= at <= frame.times[1] or shown.minute != minute % 60:
                continue
            x = frame.x(at)
            words = f"{shown:%H:%M}" if minute else day_name(day.date)
            parts.append(path(f"M{x:.1f} {frame.bottom}v5", "edge"))
            if x - named >= LABEL_PX:
                named = x
                parts.append(text(min(max(x, frame.left + 12), frame.right - 14), frame.bottom + 19, words, "mid soft"))
    return parts


def day_name(on: date, every: int = 1) -> str:
    """A day under an axis, short."""
    if every > 200:
        return f"{on:%b %Y}"
    return f"{on:%a} {on.day}" if every == 1 else f"{on.day} {on:%b}"
