"""The course of pH, or of another quantity, over some days: night and day, limits, what was done and what alarmed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from statistics import median
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.electrode.layer import Layer
from dawnline.quantity import QUANTITIES, degrees
from dawnline.review.nights import Told
from dawnline.review.plot import (
    MOST_NIGHTS,
    Frame,
    Shape,
    box,
    day_axis,
    figure,
    head,
    levels,
    limit,
    line,
    nights,
    path,
    ph_levels,
    ribbon,
    text,
)  # fmt: skip
from dawnline.review.stretch import Series
from dawnline.review.week import Week
from dawnline.rollup import STEP_MS, Rollup, by_step

LEAST_SPAN_PH: Final = 1.0
LEAST_SPAN: Final = 2.0  # of other quantities, in their unit
NEAR_PH: Final = 0.6  # a limit so near is brought onto the picture
CLOSE: Final = 0.2  # of all three, where less than a day is looked at
LEAST_HOLD_MS: Final = 2 * MINUTE_MS
LONGEST_HOLD: Final = 3  # steps that a line bridges
ALARM_ROWS: Final = 3
ALARM_PX: Final = 6
MOST_NUMBERS: Final = 40  # acts that are numbered


def ph_figure(week: Week, series: Series, shape: Shape) -> str:
    """One probe's pH as measured, corrected and forecast. Empty where nothing good was read."""
    step, parts = _steps(week, series, shape)
    if not parts:
        return ""
    coming = week.coming.get(series.probe)
    frame = Frame(shape, (week.stretch.start, _end(week, coming)), _ph_values(week, series, parts))
    lower, upper = (min(max(each, frame.values[0]), frame.values[1]) for each in week.limits.comfort)
    title = f"{week.pond}: pH of {series.probe}, {week.stretch.first} to {week.stretch.last}"
    limits = [limit(frame, value, f"{name} {value:g}") for value, name in (
        (week.limits.ph_low, "low"), (week.limits.ph_crash, "crash"), (week.limits.ph_high, "high")
    )]  # fmt: skip
    drawn = [
        box(frame.left, frame.right, frame.y(upper), frame.y(lower), "band"),
        *nights(frame, week.sun),
        *ph_levels(frame),
        *(part for each in limits for part in each[:1]),
        *day_axis(frame, week.zone),
        *_readings(frame, parts, step, "spread", "ph"),
        *_corrected(frame, parts, step, week.stretch.layers.get(series.probe)),
        *_flagged(frame, series.rollups),
        *_told(frame, week, series.probe),
        *_coming(frame, parts, coming),
        *_alarms(frame, week, series.probe),
        *_acts(frame, week),
        *(part for each in limits for part in each[1:]),  # names lie over what is drawn
        head(frame, "pH" if series.probe == "ph" else f"pH, {series.probe}"),
    ]  # fmt: skip
    return figure(shape, title, drawn, over=frame)


def other_figure(week: Week, series: Series, shape: Shape) -> str:
    """Another probe's readings in its unit. Empty where nothing good was read."""
    step, parts = _steps(week, series, shape)
    if not parts:
        return ""
    shape = shape._replace(height=round(shape.height * 0.66), top=28)
    low, high = min(each.low for each in parts), max(each.high for each in parts)
    more = max(0.0, _scale(week) * LEAST_SPAN - (high - low)) / 2 + 0.04 * (high - low)
    unit = degrees(QUANTITIES[series.quantity].unit)
    frame = Frame(shape, (week.stretch.start, _end(week, None)), (low - more, high + more))
    drawn = [
        *nights(frame, week.sun),
        *levels(frame, lambda value: f"{value:g}", most=4),
        *day_axis(frame, week.zone),
        *_readings(frame, parts, step, "warm-spread", "warm"),
        *_flagged(frame, series.rollups),
        head(frame, f"{series.probe}: {series.quantity.replace('_', ' ')} [{unit}]"),
    ]
    title = f"{week.pond}: {series.probe} in {unit}, {week.stretch.first} to {week.stretch.last}"
    return figure(shape, title, drawn, over=frame)


def _steps(week: Week, series: Series, shape: Shape) -> tuple[int, list[Rollup]]:
    """Good readings merged so far that a step is at least a pixel and a half wide. Every extreme stays."""
    span = week.stretch.end - week.stretch.start
    pixels = (shape.width - shape.left - shape.right) / 1.5
    least, rollups = (series.fine_step, series.fine) if series.fine else (STEP_MS, series.rollups)
    step = least * max(1, round(span / pixels / least))
    if step > DAY_MS // 4:  # whole days: a mean over part of one says which part
        step = -(-step // DAY_MS) * DAY_MS
    start = week.stretch.start - week.stretch.start % least
    return step, by_step((each for each in rollups if each.number), start, step)


def _end(week: Week, coming: Told | None) -> int:
    """The end of the picture: of the days, or of the night that is forecast."""
    if coming is None:
        return week.stretch.end
    return max(week.stretch.end, coming.low_at + HOUR_MS)


def _ph_values(week: Week, series: Series, parts: Sequence[Rollup]) -> tuple[float, float]:
    start, end, scale = week.stretch.start, week.stretch.end, _scale(week)
    told = [each.later for each in week.nights if each.probe == series.probe and each.later is not None]
    told = [each for each in told if start <= each.low_at < end]
    told += [week.coming[series.probe]] if series.probe in week.coming else []
    low = min(*(each.low for each in parts), *(each.low_p10 for each in told), 99.0)
    high = max(*(each.high for each in parts), *(each.low_p90 for each in told), 0.0)
    for at in (week.limits.ph_crash, week.limits.ph_low, week.limits.ph_high):
        low = at if low - scale * NEAR_PH < at < low else low
        high = at if high < at < high + scale * NEAR_PH else high
    least = scale * LEAST_SPAN_PH
    more = max(0.0, least - (high - low)) / 2 + 0.05 * max(high - low, least)
    return low - more, high + more


def _scale(week: Week) -> float:
    """How much of the usual height is shown at the least: less of it where one looks closer."""
    return 1.0 if week.stretch.end - week.stretch.start >= 23 * HOUR_MS else CLOSE


def _readings(frame: Frame, parts: Sequence[Rollup], step: int, spread: str, kind: str) -> list[str]:
    """The room between the extremes of each step, and the line of the means."""
    middles = [(each.at + step / 2, each) for each in parts]
    ends = [(at, each.low, each.high) for at, each in middles]
    means = [(at, each.total / each.number) for at, each in middles]
    longest = _hold(frame, parts, step)
    return [ribbon(frame, ends, spread, longest), line(frame, means, kind, longest)]


def _hold(frame: Frame, parts: Sequence[Rollup], step: int) -> float:
    """The longest silence that a line bridges: an hour or a few steps; close up, a few of the usual pauses."""
    if frame.times[1] - frame.times[0] >= 23 * HOUR_MS or len(parts) < 2:
        return max(LONGEST_HOLD * step, HOUR_MS)
    usual = median(b.at - a.at for a, b in pairwise(parts))
    return max(LONGEST_HOLD * step, 2 * LONGEST_HOLD * usual, LEAST_HOLD_MS)


def _corrected(frame: Frame, parts: Sequence[Rollup], step: int, layer: Layer | None) -> list[str]:
    """The mean corrected for drift and fouling, where two visits enclose it."""
    points = []
    for each in parts:
        at, mean = each.at + step // 2, each.mean
        if layer is not None and mean is not None and layer.known(at):
            value = layer.correct(at, mean).value
            points += [] if value is None else [(float(at), value)]
    return [line(frame, points, "corrected", _hold(frame, parts, step))] if points else []


def _flagged(frame: Frame, rollups: Sequence[Rollup]) -> list[str]:
    """A trace along the bottom where readings were flagged."""
    parts, until = [], 0.0
    for each in rollups:
        x0, x1 = frame.within(each.at), frame.within(each.at + STEP_MS)
        if each.flagged and x1 > max(x0, until):
            until = max(x1, x0 + 2)
            parts.append(box(max(x0, 0), until, frame.bottom - 6, frame.bottom - 1, "flag"))
    return parts


def _told(frame: Frame, week: Week, probe: str) -> list[str]:
    """For each night a bar from the low bound to the high one, as told three hours after sunset.

    The night under way has the latest forecast instead.
    """
    if len(week.stretch.dates) > MOST_NIGHTS:
        return []
    until = week.as_of if week.as_of is not None and probe in week.coming else frame.times[1]
    parts = []
    for night in week.nights:
        later = night.later
        if night.probe == probe and later is not None and frame.times[0] <= later.low_at <= until:
            parts += _bar(frame, later)
    return parts


def _bar(frame: Frame, told: Told) -> list[str]:
    x, y0, y1 = frame.within(told.low_at), frame.y(told.low_p90), frame.y(told.low_p10)
    return [
        path(f"M{x - 4:.1f} {y0:.1f}h8M{x:.1f} {y0:.1f}V{y1:.1f}M{x - 4:.1f} {y1:.1f}h8", "told"),
        f'<circle cx="{x:.1f}" cy="{frame.y(told.low):.1f}" r="3" class="told-low"/>',
    ]


def _coming(frame: Frame, parts: Sequence[Rollup], told: Told | None) -> list[str]:
    """Tonight's forecast: a fan from the last reading to the bounds of the coming low."""
    last = parts[-1]
    if told is None or last.mean is None or told.at - last.at > DAY_MS // 4:
        return []
    x0, x1 = frame.within(min(last.at, told.at)), frame.within(told.low_at)
    places = f"{x0:.1f} {frame.y(last.mean):.1f}L{x1:.1f} {frame.y(told.low_p90):.1f}V{frame.y(told.low_p10):.1f}"
    return [path(f"M{places}Z", "told-fan"), *_bar(frame, told)]


def _alarms(frame: Frame, week: Week, probe: str) -> list[str]:
    """A bar above the picture for each alarm of this probe or of the pond, from its beginning to its end."""
    parts, ends = [], [0.0] * ALARM_ROWS
    for each in week.episodes:
        if each.probe not in (None, probe):
            continue
        end = each.ended_at if each.ended_at is not None else min(week.as_of or frame.times[1], frame.times[1])
        x0, x1 = frame.within(each.since), frame.within(end)
        row = next((place for place, used in enumerate(ends) if used < x0), ALARM_ROWS - 1)
        ends[row] = max(x1, x0 + 3) + 1
        y = frame.top - 4 - ALARM_PX * (row + 1)
        title = week.titles.get(each.alarm, each.alarm)
        parts.append(box(x0, max(x1, x0 + 3), y, y + ALARM_PX - 2, each.priority, name=title))
    return parts


def _acts(frame: Frame, week: Week) -> list[str]:
    """A mark at the foot for each entry of the logbook, with its number there."""
    parts, used = [], -99.0
    for number, act in enumerate(week.logbook, 1):
        x, y = frame.within(act.at), frame.bottom - 9
        parts.append(path(f"M{x:.1f} {y:.1f}l4 -6l-4 -6l-4 6z", "act"))
        if len(week.logbook) <= MOST_NUMBERS and x - used > 14:
            used = x
            parts.append(text(x, y - 15, str(number), "act-name mid"))
    return parts
