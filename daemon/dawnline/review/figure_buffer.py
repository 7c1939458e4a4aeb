"""The buffer line on its own axis: 10 to the power of each dawn low falls on a line while pH looks calm.

The height is 10^pH, which at these pH values goes with the alkalinity over the carbon dioxide that is left at dawn; the
numbers at the edge are pH.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any, Final

from dawnline.duration import HOUR_MS
from dawnline.event import Forecast
from dawnline.review.plot import Frame, Shape, day_axis, figure, head, label, limit, line, path
from dawnline.review.week import Week

MARKS: Final = (5.0, 5.5, 6.0, 6.3, 6.5, 6.7, 6.8, 6.9, 7.0, 7.1, 7.2, 7.3, 7.4, 7.5, 7.6, 7.8, 8.0, 8.2, 8.5, 9.0)
APART_PX: Final = 17
LEAST_NIGHTS: Final = 2
HALF_A_DAY_MS: Final = 12 * HOUR_MS


def buffer_figure(week: Week, morning: Forecast | None, shape: Shape) -> str:
    """What the line looked back on and ahead to on a `morning`. Empty with less than two nights."""
    nights = [] if morning is None else morning.evidence.get("nights", [])
    if morning is None or len(nights) < LEAST_NIGHTS:
        return ""
    at = {on: week.sun.day(date.fromisoformat(on)).sunrise for on, _, _ in nights}
    until = morning.body.get("latest") or morning.body.get("earliest") or nights[-1][0]
    last = week.sun.day(max(date.fromisoformat(until), date.fromisoformat(nights[-1][0])) + timedelta(days=1)).end
    low = week.limits.ph_low
    top = max(10.0 ** max([low, *(ph for _, ph, _ in nights)]), 10.0 ** (low + 0.3)) * 1.08
    shape = shape._replace(top=30)
    frame = Frame(shape, (week.sun.day(date.fromisoformat(nights[0][0])).start, last), (0.0, top))
    parts = [*_marks(frame), *limit(frame, 10.0**low, f"low {low:g}"), *day_axis(frame, week.zone)]
    odd = [(since, kind) for since, kind in morning.evidence.get("steps", [])]
    stepped = max((since for since, kind in odd if kind == "step"), default=0) - HALF_A_DAY_MS
    fitted = [(float(at[on]), 10.0**fit) for on, _, fit in nights if fit is not None and at[on] >= stepped]
    if fitted:
        parts.append(line(frame, fitted, "fit"))
        parts += _ahead(frame, week, morning.body, fitted[-1])
    passed_over = [since for since, kind in odd if kind != "step"]
    for on, ph, _ in nights:
        x, y = frame.x(at[on]), frame.y(10.0**ph)
        if any(abs(at[on] - since) < HALF_A_DAY_MS for since in passed_over):
            parts.append(path(f"M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8", "odd"))
        else:
            inside = week.stretch.first <= date.fromisoformat(on) <= week.stretch.last
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" class="{"dot" if inside else "told-low"}"/>')
    said = datetime.fromtimestamp(morning.at / 1000, week.zone)
    parts.append(head(frame, f"10^pH at dawn, seen on {said:%a} {said.day} {said:%b}"))
    return figure(shape, f"{week.pond}: the buffer line, as of {said:%Y-%m-%d}", parts)


def _marks(frame: Frame) -> list[str]:
    """Rules at pH values: close together where pH is low, far apart where it is high."""
    parts, used = [], float(frame.bottom + APART_PX)
    for ph in MARKS:
        y = frame.y(10.0**ph)
        if y < frame.top:
            break
        if used - y >= APART_PX:
            used = y
            parts += [path(f"M{frame.left} {y:.1f}H{frame.right}", "rule"), label(frame, y, f"{ph:.1f}")]
    return parts


def _ahead(frame: Frame, week: Week, body: Any, last: tuple[float, float]) -> list[str]:
    """The line drawn out to the day it reaches the limit, and the days between the earliest and the latest."""
    level = 10.0**week.limits.ph_low
    central, early, late = (
        None if (on := body.get(key)) is None else week.sun.day(date.fromisoformat(on)).sunrise
        for key in ("reaches_low_on", "earliest", "latest")
    )
    y, parts = frame.y(level), []
    if early is not None and late is not None:
        x0, x1 = frame.within(early), frame.within(late)
        parts.append(path(f"M{x0:.1f} {y - 5:.1f}v10M{x0:.1f} {y:.1f}H{x1:.1f}M{x1:.1f} {y - 5:.1f}v10", "told"))
    if central is not None and central > last[0]:
        parts.append(line(frame, [last, (float(central), level)], "ahead"))
        parts.append(f'<circle cx="{frame.x(central):.1f}" cy="{y:.1f}" r="4" class="told-low"/>')
    return parts
