"""Rain by day: a bar for each day, with its millimetres."""

from __future__ import annotations

from typing import Final

from dawnline.review.plot import Frame, Shape, day_axis, days_of, figure, head, levels, text
from dawnline.review.week import Week

NUMBERS_PX: Final = 30  # room that a bar with its number needs
LEAST_TOP_MM: Final = 5.0  # drizzle is not drawn as a flood


def rain_figure(week: Week, shape: Shape) -> str:
    """The days of the week with their rain. Empty where nothing fell, or nobody looked."""
    if week.rain is None or not week.rain.mm:
        return ""
    shape = shape._replace(height=round(shape.height * 0.55), top=30)
    fell = dict(week.rain.by_day)
    most = max(LEAST_TOP_MM, *fell.values())
    frame = Frame(shape, (week.stretch.start, week.stretch.end), (0.0, 1.2 * most))
    pond_days = days_of(frame, week.zone)
    room = (frame.right - frame.left) / len(pond_days)
    parts = [*levels(frame, lambda value: f"{value:g}", most=4), *day_axis(frame, week.zone, by_clock=False)]
    for each in pond_days:
        mm = fell.get(str(each.date), 0.0)
        x = (frame.within(each.start) + frame.within(each.end)) / 2
        if mm > 0.0:
            width = min(18.0, max(1.0, room * 0.5))
            parts.append(f'<path d="M{x:.1f} {frame.bottom:.1f}V{frame.y(mm):.1f}" class="fell" '
                         f'stroke-width="{width:.1f}"/>')  # fmt: skip
        if mm >= 0.05 and room >= NUMBERS_PX:
            parts.append(text(x, frame.y(mm) - 6, f"{mm:.1f}", "mid"))
    parts.append(head(frame, "Rain [mm]"))
    title = f"{week.pond}: rain by day in mm, {week.stretch.first} to {week.stretch.last}"
    return figure(shape, title, parts)
