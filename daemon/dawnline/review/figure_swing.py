"""Swing by day: each day a bar from its dawn low up to its dusk high."""

from __future__ import annotations

from typing import Final

from dawnline.event import Day
from dawnline.review.plot import Frame, Shape, day_axis, days_of, figure, head, levels, limit, path, text
from dawnline.review.week import Beside, Week

NUMBERS_PX: Final = 34  # room that a bar with its two numbers needs


def swing_figure(week: Week, beside: Beside, shape: Shape) -> str:
    """One probe's days. Empty where no day has a figure, and of one day, which has nothing beside it."""
    days = {day.date: day for day in week.stretch.days if day.probe == beside.now.probe}
    ends = [v for day in days.values() for v in (day.dawn_low, day.dusk_high) if v is not None]
    if not ends or len(week.stretch.dates) == 1:
        return ""
    corrections = {row.date: row for c in week.corrections if c.probe == beside.now.probe for row in c.days}
    shape = shape._replace(top=30)
    more = max(0.12 * (max(ends) - min(ends)), 0.2)
    frame = Frame(shape, (week.stretch.start, week.stretch.end), (min(ends) - more, max(ends) + more))
    pond_days = days_of(frame, week.zone)
    room = (frame.right - frame.left) / len(pond_days)
    parts = [
        *levels(frame, lambda value: f"{value:.1f}", most=5),
        *limit(frame, week.limits.ph_low, f"low {week.limits.ph_low:g}"),
        *limit(frame, week.limits.ph_high, f"high {week.limits.ph_high:g}"),
        *day_axis(frame, week.zone, by_clock=False),
    ]
    for each in pond_days:
        x = (frame.within(each.start) + frame.within(each.end)) / 2
        parts += _bar(frame, days.get(str(each.date)), x, room)
        row = corrections.get(str(each.date))
        for value in () if row is None else (row.dawn_low, row.dusk_high):
            if value is not None:
                parts.append(path(f"M{x - 8:.1f} {frame.y(value):.1f}h16", "corrected"))
    name = "" if beside.now.probe == "ph" else f", {beside.now.probe}"
    parts.append(head(frame, f"From dawn low to dusk high{name}"))
    title = f"{week.pond}: dawn low and dusk high of {beside.now.probe}, {week.stretch.first} to {week.stretch.last}"
    return figure(shape, title, parts)


def _bar(frame: Frame, day: Day | None, x: float, room: float) -> list[str]:
    """A day at `x`: a bar with its two numbers, a dot where it has one figure only, or the word that it has none."""
    low, high = (None, None) if day is None else (day.dawn_low, day.dusk_high)
    ends = [value for value in (low, high) if value is not None]
    if not ends:
        return [text(x, frame.bottom - 8, "no figure", "mid soft")] if room > 1.8 * NUMBERS_PX else []
    width = min(10.0, max(1.0, room * 0.4))
    if len(ends) == 2:
        bar = (
            f'<path d="M{x:.1f} {frame.y(ends[0]):.1f}V{frame.y(ends[1]):.1f}" class="bar" stroke-width="{width:.1f}"/>'
        )
    else:
        bar = f'<circle cx="{x:.1f}" cy="{frame.y(ends[0]):.1f}" r="{max(2.0, width / 2):.1f}" class="dot"/>'
    numbers = ((low, 20), (high, -10)) if room >= NUMBERS_PX else ()
    return [bar, *(text(x, frame.y(v) + away, f"{v:.2f}", "mid") for v, away in numbers if v is not None)]
