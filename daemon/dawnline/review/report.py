"""The report: one HTML file that needs nothing from outside, for the screen, the telephone and paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from functools import partial
from html import escape
from typing import Final

from dawnline.electrode.calibration import IDEAL
from dawnline.quantity import degrees
from dawnline.review.figure_buffer import buffer_figure
from dawnline.review.figure_care import care_figure
from dawnline.review.figure_course import other_figure, ph_figure
from dawnline.review.figure_rain import rain_figure
from dawnline.review.figure_swing import swing_figure
from dawnline.review.look import FIGURE_STYLE
from dawnline.review.plot import MOST_NIGHTS, NARROW, WIDE, Shape
from dawnline.review.report_style import REPORT_STYLE
from dawnline.review.sentences import sentences
from dawnline.review.stretch import Series
from dawnline.review.tables import alarm_table, days_table, gaps_list, logbook, nights_table, probes_table
from dawnline.review.week import Week
from dawnline.review.words import moment

MARK: Final = '<meta name="generator" content="dawnline review">'
"""Stands within the first lines of each report: a file with it is one of ours."""


def report(week: Week) -> str:
    """The whole file."""
    first, last = week.stretch.first, week.stretch.last
    title = f"{week.pond}, {first} to {last}"
    head = [
        "<!doctype html>",
        f'<html lang="en"><head><meta charset="utf-8">{MARK}',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title>",
        f"<style>{FIGURE_STYLE}\n{REPORT_STYLE}</style></head><body>",
        f"<header><p>{dates(week)}</p><h1>{escape(week.pond)}</h1></header><main>",
    ]
    return "\n".join([*head, body(week), "</main></body></html>", ""])


def body(week: Week) -> str:
    """What a report says, for a page that has a head of its own."""
    return degrees("\n".join(_sections(week)))


def course(week: Week, series: Series) -> str:
    """The course of one pH probe, with its legend."""
    return drawn(partial(ph_figure, week, series), _legend(week))


def _sections(week: Week) -> Iterator[str]:
    yield section("What changed", _sentences(week))
    for series in week.stretch.series:
        if series.quantity in IDEAL:
            yield course(week, series)
        elif series.quantity != "rain":
            yield drawn(partial(other_figure, week, series))
    yield drawn(partial(rain_figure, week))
    for beside in week.probes:
        yield drawn(partial(swing_figure, week, beside))
    yield section("Days", days_table(week))
    yield section("Nights", nights_table(week))
    morning = week.stretch.mornings[-1] if week.stretch.mornings else None
    line = drawn(partial(buffer_figure, week, morning), _BUFFER_LEGEND)
    yield section("Buffer", f"<p>{escape(week.buffer)}</p>{line}" if week.buffer else line)
    yield section("Alarms", alarm_table(week))
    yield section("Logbook", logbook(week))
    care = "".join(drawn(partial(care_figure, week, layer)) for layer in week.stretch.layers.values())
    yield section("Probes", probes_table(week) + care)
    thinned = f"<p>{escape(week.stretch.thinned)}</p>" if week.stretch.thinned else ""
    yield section("What is missing", gaps_list(week) + thinned)


def section(name: str, inside: str) -> str:
    """A part with its heading; none where there is nothing to say."""
    return f"<section><h2>{name}</h2>{inside}</section>" if inside else ""


def drawn(draw: Callable[[Shape], str], legend: str = "") -> str:
    """A figure for wide screens and one for narrow ones; the style shows the one that fits."""
    wide = draw(WIDE)
    if not wide:
        return ""
    caption = f"<figcaption>{legend}</figcaption>" if legend else ""
    return f'<figure><div class="wide">{wide}</div><div class="narrow">{draw(NARROW)}</div>{caption}</figure>'


def _sentences(week: Week) -> str:
    return "<ul>" + "".join(f"<li>{escape(each.text)}</li>" for each in sentences(week)) + "</ul>"


def dates(week: Week) -> str:
    """First and last day, and where the record ends."""
    first, last = week.stretch.first, week.stretch.last
    year = "" if first.year == last.year else f" {first.year}"
    span = _long(last) if first == last else f"{_long(first)}{year} to {_long(last)}"
    return escape(f"{span} {last.year}{'; ' if record_end(week) else ''}{record_end(week)}")


def short_dates(week: Week) -> str:
    """First and last day, for a heading on a narrow screen."""
    first, last = week.stretch.first, week.stretch.last
    year = "" if first.year == last.year else f" {first.year}"
    span = f"{last:%a} {last.day} {last:%b} {last.year}"
    return span if first == last else f"{first:%a} {first.day} {first:%b}{year} to {span}"


def record_end(week: Week) -> str:
    """Until when there is a record, where that is before the days are over."""
    return "" if week.whole or week.as_of is None else f"the record ends {moment(week.as_of, week.zone)}"


def _long(on: date) -> str:
    return f"{on:%A} {on.day} {on:%B}"


# ------------------------------------------------------------ legends


def _key(kind: str, words: str) -> str:
    return f'<span class="key"><i class="{kind}"></i>{escape(words)}</span>'


def _legend(week: Week) -> str:
    few = len(week.stretch.dates) <= MOST_NIGHTS
    keys = [_key("k-ph", "measured: mean, and from the lowest to the highest")]
    keys += [_key("k-dark", "sunset to sunrise")] if few else []
    low, high = week.limits.comfort
    keys.append(_key("k-band", f"{low:g} to {high:g}"))
    if any(each.grade is not None for each in week.corrections):
        keys.append(_key("k-corrected", "corrected for drift and fouling"))
    if (week.nights and few) or week.coming:
        keys.append(_key("k-told", "forecast three hours after sunset, 10 to 90 %"))
    if any(each.flagged for series in week.stretch.series for each in series.rollups):
        keys.append(_key("k-flag", "readings flagged, not used"))
    if week.logbook:
        keys.append(_key("k-act", "logbook, by its number below"))
    if week.episodes:
        keys += [_key("k-high", "alarm: high"), _key("k-medium", "medium"), _key("k-low", "low priority")]
    return "".join(keys)


_BUFFER_LEGEND: Final = (
    _key("k-dot", "dawn lows of these days")
    + _key("k-told-low", "of earlier ones; the day the line reaches the limit")
    + _key("k-odd", "a night that does not fit")
    + _key("k-fit", "the fitted line since the last step, and drawn out")
    + _key("k-told", "earliest to latest")
    + "<p>The height is 10<sup>pH</sup>: it falls on a line as the buffer is used up, while pH itself looks calm. "
    "Nights before a step or a calibration stand as they were measured.</p>"
)
