"""A look closer: any stretch of time from an hour on, its pictures, and what they show in figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from html import escape

from dawnline.electrode.calibration import IDEAL
from dawnline.quantity import QUANTITIES, degrees
from dawnline.review.figure_course import other_figure
from dawnline.review.figure_rain import rain_figure
from dawnline.review.report import course, drawn, section
from dawnline.review.stretch import Series
from dawnline.review.tables import alarm_table, logbook, table_of
from dawnline.review.week import Week
from dawnline.review.words import clock, moment


def close_up(week: Week) -> str:
    """What a page shows of it; `week` is cut to the stretch."""
    return degrees("\n".join(_parts(week)))


def title(week: Week) -> str:
    """From when to when, as a heading."""
    start, end, zone = week.stretch.start, week.stretch.end, week.zone
    if week.stretch.first == week.stretch.last:
        on = week.stretch.first
        until = clock(end, zone) if clock(end, zone) != "00:00" else "24:00"
        return f"{on:%a} {on.day} {on:%b} {on.year}, {clock(start, zone)} to {until}"
    return f"{moment(start, zone)} to {moment(end, zone)}, {week.stretch.last.year}"


def _parts(week: Week) -> Iterator[str]:
    shown = [each for each in week.stretch.series if each.quantity != "rain"]
    pictures = [
        course(week, each) if each.quantity in IDEAL else drawn(partial(other_figure, week, each)) for each in shown
    ]
    yield "".join(pictures) or "<p>Nothing was read in this time.</p>"
    yield drawn(partial(rain_figure, week)) if len(week.stretch.dates) > 2 else ""
    rain = f"<p>Rain: {week.rain.mm:.1f} mm.</p>" if week.rain is not None and week.rain.mm else ""
    yield section("In figures", _figures(week, shown) + rain)
    if week.episodes:
        yield section("Alarms", alarm_table(week))
    if week.logbook:
        yield section("Logbook", logbook(week))


def _figures(week: Week, shown: Sequence[Series]) -> str:
    rows = [_row(week, series) for series in shown]
    return table_of(["probe", "lowest", "highest", "mean", "good readings"], [row for row in rows if row], "figures")


def _row(week: Week, series: Series) -> list[str]:
    parts = [each for each in series.fine if each.number]
    if not parts:
        return []

    def show(value: float) -> str:
        return f"{value:.2f}" if series.quantity in IDEAL else QUANTITIES[series.quantity].show(value)

    low, high = min(parts, key=lambda each: each.low), max(parts, key=lambda each: each.high)
    number = sum(each.number for each in parts)
    mean = sum(each.total for each in parts) / number
    times = [f" <small>{clock(each.at, week.zone)}</small>" for each in (low, high)]
    return [
        escape(series.probe), show(low.low) + times[0], show(high.high) + times[1],
        show(mean), str(number),
    ]  # fmt: skip
