"""The tables of a report: days, nights, alarms, the logbook, and what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from html import escape
from typing import Final

from dawnline.alarms.episodes import Episode
from dawnline.duration import MINUTE_MS, show_duration
from dawnline.event import Act, Day
from dawnline.quantity import QUANTITIES
from dawnline.review.summary import Warmth
from dawnline.review.week import Week
from dawnline.review.words import clock, entry_line, moment

NOTHING: Final = "\N{EN DASH}"


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


def _named(probe: str) -> str:
    """A probe beside its figures: a long name goes on in a second line."""
    return f'<b class="name">{escape(probe)}</b>'


def _ph(value: float | None) -> str:
    return NOTHING if value is None else f"{value:.2f}"


def _at(week: Week, value: float | None, at: int | None) -> str:
    return NOTHING if value is None or at is None else f"{value:.2f} <small>{clock(at, week.zone)}</small>"


def _minutes(value: float) -> str:
    return NOTHING if value < 0.5 else show_duration(value * MINUTE_MS)


def days_table(week: Week) -> str:
    """Each day of each pH probe, and the grade of its record."""
    several, graded = len(week.probes) > 1, [each for each in week.corrections if each.grade is not None]
    rows = {(day.date, each.probe): day for each in graded for day in each.days}
    grades = {each.probe: each.grade for each in graded}
    doubted = week.doubted

    def cells(day: Day) -> list[str]:
        on, fixed = date.fromisoformat(day.date), rows.get((day.date, day.probe))
        name = f"{on:%a} {on.day} {on:%b}{' so far' if day.partial else ''}"
        name += ", doubted" if (day.date, day.probe) in doubted else ""
        return [
            escape(name), *([_named(day.probe)] if several else []), _at(week, day.dawn_low, day.dawn_low_at),
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


def nights_table(week: Week) -> str:
    """What was told of each night, and what came."""
    several = len({each.probe for each in week.nights}) > 1
    rows = []
    for each in week.nights:
        on, later = date.fromisoformat(each.date), each.later
        bounds = (
            NOTHING if later is None else f"{later.low:.2f} <small>{later.low_p10:.2f} to {later.low_p90:.2f}</small>"
        )
        held = {None: NOTHING, True: "within", False: "outside"}[each.within]
        rows.append([
            f"{on:%a} {on.day} {on:%b}", *([_named(each.probe)] if several else []),
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


def probes_table(week: Week) -> str:
    """The probes of other quantities, beside the days before and those of a year ago."""
    rows = []
    for each in week.others:
        quantity = QUANTITIES[each.now.quantity]
        values = each.now.lowest, each.now.mean, each.now.highest, _mean(each.before), _mean(each.year_ago)
        shown = [NOTHING if v is None else quantity.show(v) for v in values]
        rows.append([escape(each.now.probe), *shown])
    return table_of(["probe", "lowest", "mean", "highest", "mean before", "mean a year ago"], rows, "figures")


def _mean(of: Warmth | None) -> float | None:
    return None if of is None else of.mean


def gaps_list(week: Week) -> str:
    """From when to when nothing good was read; empty where there was always something."""
    rows = [
        f"<li>{escape(gap.probe)}: nothing good from {moment(gap.start, week.zone)} to {moment(gap.end, week.zone)} "
        f"({show_duration(gap.end - gap.start)}{f', {gap.flagged} readings flagged' if gap.flagged else ''})</li>"
        for gap in week.gaps
    ]
    return f"<ul>{''.join(rows)}</ul>" if rows else ""
