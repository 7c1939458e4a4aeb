"""The report: one HTML file that needs nothing from outside, for the screen, the telephone and paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from functools import partial
from html import escape
from typing import Final

from dawnline.duration import MINUTE_MS, show_duration
from dawnline.electrode.calibration import IDEAL
from dawnline.event import Act, Day
from dawnline.quantity import QUANTITIES
from dawnline.review.episodes import Episode
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
from dawnline.review.summary import Warmth
from dawnline.review.week import Week
from dawnline.review.words import clock, degrees, entry_line, moment

MARK: Final = '<meta name="generator" content="dawnline review">'
"""Stands within the first lines of each report: a file with it is one of ours."""
NOTHING: Final = "\N{EN DASH}"


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
    yield section("Days", _days(week))
    yield section("Nights", _nights(week))
    morning = week.stretch.mornings[-1] if week.stretch.mornings else None
    line = drawn(partial(buffer_figure, week, morning), _BUFFER_LEGEND)
    yield section("Buffer", f"<p>{escape(week.buffer)}</p>{line}" if week.buffer else line)
    yield section("Alarms", alarm_table(week))
    yield section("Logbook", logbook(week))
    yield section("Probes", _probes(week))
    thinned = f"<p>{escape(week.stretch.thinned)}</p>" if week.stretch.thinned else ""
    yield section("What is missing", _gaps(week) + thinned)


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

# ------------------------------------------------------------ tables


def table_of(head: Sequence[str], rows: Iterable[Sequence[str]], kind: str = "") -> str:
    """A table of escaped cells; each carries the name of its column for narrow screens. Empty without rows."""
    body = [
        "<tr>"
        + "".join(
            f'<{tag} data-name="{escape(name)}"><span>{cell}</span></{tag}>'
            for name, cell, tag in zip(head, row, ["th", *["td"] * (len(head) - 1)], strict=True)
        )
        + "</tr>"
        for row in rows
    ]
    if not body:
        return ""
    columns = "".join(f'<th scope="col">{escape(name)}</th>' for name in head)
    return f'<table class="{kind}"><thead><tr>{columns}</tr></thead><tbody>{"".join(body)}</tbody></table>'


def _ph(value: float | None) -> str:
    return NOTHING if value is None else f"{value:.2f}"


def _at(week: Week, value: float | None, at: int | None) -> str:
    return NOTHING if value is None or at is None else f"{value:.2f} <small>{clock(at, week.zone)}</small>"


def _minutes(value: float) -> str:
    return NOTHING if value < 0.5 else show_duration(value * MINUTE_MS)


def _days(week: Week) -> str:
    several, graded = len(week.probes) > 1, [each for each in week.corrections if each.grade is not None]
    rows = {(day.date, each.probe): day for each in graded for day in each.days}
    grades = {each.probe: each.grade for each in graded}

    def cells(day: Day) -> list[str]:
        on, fixed = date.fromisoformat(day.date), rows.get((day.date, day.probe))
        name = f"{on:%a} {on.day} {on:%b}{' so far' if day.partial else ''}"
        return [
            escape(name), *([escape(day.probe)] if several else []), _at(week, day.dawn_low, day.dawn_low_at),
            *([_ph(fixed and fixed.dawn_low)] if graded else []), _at(week, day.dusk_high, day.dusk_high_at),
            *([_ph(fixed and fixed.dusk_high)] if graded else []), _ph(day.swing), _ph(day.mean),
            _minutes(day.minutes_below), _minutes(day.minutes_above), f"{day.coverage:.0%}",
        ]  # fmt: skip

    head = ["day", *(["probe"] if several else []), "dawn low", *(["corrected"] if graded else []), "dusk high",
            *(["corrected"] if graded else []), "swing", "mean", f"below {week.limits.ph_low:g}",
            f"above {week.limits.ph_high:g}", "seen"]  # fmt: skip
    grade = "; ".join(f"{escape(probe)}: {of.label}" for probe, of in grades.items() if of is not None)
    note = f"<p>Record, by the visits with buffer or brush (USGS TM 1-D3): {grade}.</p>" if grade else ""
    return table_of(head, (cells(day) for day in week.stretch.days), "figures") + note


def _nights(week: Week) -> str:
    several = len({each.probe for each in week.nights}) > 1
    rows = []
    for each in week.nights:
        on, later = date.fromisoformat(each.date), each.later
        bounds = (
            NOTHING if later is None else f"{later.low:.2f} <small>{later.low_p10:.2f} to {later.low_p90:.2f}</small>"
        )
        held = {None: NOTHING, True: "within", False: "outside"}[each.within]
        rows.append([
            f"{on:%a} {on.day} {on:%b}", *([escape(each.probe)] if several else []),
            _ph(each.at_sunset and each.at_sunset.low), bounds, _ph(each.last and each.last.low),
            _at(week, each.came, each.came_at), held,
        ])  # fmt: skip
    head = ["morning", *(["probe"] if several else []), "told at sunset", "3 h later", "last before sunrise", "came",
            "bounds"]  # fmt: skip
    return table_of(head, rows, "figures nights")


def alarm_table(week: Week) -> str:
    """Each alarm with its course; empty where there was none."""

    def cells(each: Episode) -> list[str]:
        answered = NOTHING
        if each.acknowledged_at is not None:
            after = "" if each.answered_after is None else f" after {show_duration(each.answered_after)}"
            answered = escape(f"{each.acknowledged_by or 'yes'}{after}")
        began = moment(each.since, week.zone)
        ended = "still there" if each.ended_at is None else moment(each.ended_at, week.zone)
        place = f" [{each.probe}]" if each.probe else ""
        return [
            f"<b>{escape(week.titles.get(each.alarm, each.alarm))}</b>{escape(place)}",
            each.priority,
            began,
            ended,
            answered,
            escape(each.text),
        ]

    found = table_of(
        ["alarm", "priority", "from", "to", "acknowledged", "what was said"], map(cells, week.episodes), "words alarms"
    )
    return found or "<p>None.</p>"


def logbook(week: Week) -> str:
    """The entries, by the numbers that they have in the pictures."""

    def cells(number: int, act: Act) -> list[str]:
        return [str(number), moment(act.at, week.zone), escape(entry_line(act, week.units)), escape(act.actor)]

    rows = (cells(number, act) for number, act in enumerate(week.logbook, 1))
    return table_of(["", "when", "what", "by"], rows, "words") or "<p>No entries.</p>"


def _probes(week: Week) -> str:
    """The other probes in figures, and each pH probe's calibrations."""
    rows = []
    for each in week.others:
        quantity = QUANTITIES[each.now.quantity]
        values = each.now.lowest, each.now.mean, each.now.highest, _mean(each.before), _mean(each.year_ago)
        shown = [NOTHING if v is None else quantity.show(v) for v in values]
        rows.append([escape(each.now.probe), *shown])
    found = table_of(["probe", "lowest", "mean", "highest", "mean before", "mean a year ago"], rows, "figures")
    for layer in week.stretch.layers.values():
        found += drawn(partial(care_figure, week, layer))
    return found


def _mean(of: Warmth | None) -> float | None:
    return None if of is None else of.mean


def _gaps(week: Week) -> str:
    rows = [
        f"<li>{escape(gap.probe)}: nothing good from {moment(gap.start, week.zone)} to {moment(gap.end, week.zone)} "
        f"({show_duration(gap.end - gap.start)}{f', {gap.flagged} readings flagged' if gap.flagged else ''})</li>"
        for gap in week.gaps
    ]
    return f"<ul>{''.join(rows)}</ul>" if rows else ""
