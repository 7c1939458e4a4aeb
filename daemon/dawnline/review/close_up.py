"""A look closer: any stretch of time from an hour on, its pictures, and what they show in figures."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from html import escape

from dawnline.electrode.calibration import IDEAL
from dawnline.quantity import QUANTITIES
from dawnline.review.figure_course import other_figure
from dawnline.review.report import alarm_table, course, drawn, logbook, section, table_of
from dawnline.review.stretch import Series
from dawnline.review.week import Week
from dawnline.review.words import clock, degrees, moment


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
    found = False
    for series in week.stretch.series:
        picture = course(week, series) if series.quantity in IDEAL else drawn(partial(other_figure, week, series))
        found = found or bool(picture)
        yield picture
    if not found:
        yield "<p>Nothing was read in this time.</p>"
    yield section("In figures", _figures(week))
    if week.episodes:
        yield section("Alarms", alarm_table(week))
    if week.logbook:
        yield section("Logbook", logbook(week))


def _figures(week: Week) -> str:
    rows = [_row(week, series) for series in week.stretch.series]
    return table_of(["probe", "lowest", "highest", "mean", "good readings"], [row for row in rows if row], "figures")


def _row(week: Week, series: Series) -> list[str]:
    parts = [each for each in series.fine if each.number]
    if not parts:
        return []
    quantity = QUANTITIES["ph" if series.quantity in IDEAL else series.quantity]
    low, high = min(parts, key=lambda each: each.low), max(parts, key=lambda each: each.high)
    number = sum(each.number for each in parts)
    mean = sum(each.total for each in parts) / number
    times = [f" <small>{clock(each.at, week.zone)}</small>" for each in (low, high)]
    return [
        escape(series.probe), quantity.show(low.low) + times[0], quantity.show(high.high) + times[1],
        quantity.show(mean), str(number),
    ]  # fmt: skip
