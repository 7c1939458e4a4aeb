"""The week as data: the objects of `review --json`, and the days as a table of comma separated values."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import asdict
from datetime import tzinfo
from typing import Any, Final

from dawnline.alarms.episodes import Episode
from dawnline.contract import alarm_line, day_line, line, rounded
from dawnline.duration import MINUTE_MS, iso
from dawnline.review.alarms import performance_line
from dawnline.review.nights import SeenNight, Told
from dawnline.review.sentences import sentences
from dawnline.review.summary import Summary, Warmth
from dawnline.review.week import Week

COLUMNS: Final = (
    "date", "probe", "dawn_low", "dawn_low_at", "dawn_low_corrected", "dusk_high", "dusk_high_at",
    "dusk_high_corrected", "swing", "mean", "minutes_below", "minutes_above", "coverage", "partial", "grade",
    "forecast_low", "forecast_p10", "forecast_p90", "rain_mm", "doubted",
)  # fmt: skip


def objects(week: Week) -> Iterator[dict[str, Any]]:
    """One object a line: the head, days and alarm changes of the contract, then what was worked out of them."""
    zone, stretch = week.zone, week.stretch
    yield {
        "event": "review", "version": 1, "pond": week.pond, "from": str(stretch.first), "to": str(stretch.last),
        **({"thinned": stretch.thinned} if stretch.thinned else {}),
    }  # fmt: skip
    doubted = week.doubted
    yield from ({**day_line(day, zone), "doubted": (day.date, day.probe) in doubted} for day in stretch.days)
    yield from (alarm_line(each, zone) for each in stretch.transitions)
    for each in week.corrections:
        rows = [{"date": d.date, "dawn_low": rounded(d.dawn_low), "dusk_high": rounded(d.dusk_high)} for d in each.days]
        grade = None if each.grade is None else each.grade.label
        yield {
            "event": "correction", "probe": each.probe, "grade": grade, "worst": rounded(each.worst), "days": rows,
        }  # fmt: skip
    yield from (_night(week, night) for night in week.nights)
    yield from (found for each in stretch.mornings if (found := line(each, zone)) is not None)
    yield from (_episode(each, zone) for each in week.episodes)
    for act in week.logbook:
        yield {"event": "act", "time": iso(act.at, zone), "act": act.kind, **dict(act.body), "by": act.actor}
    for gap in week.gaps:
        yield {
            "event": "gap", "probe": gap.probe, "from": iso(gap.start, zone), "to": iso(gap.end, zone),
            "flagged": gap.flagged,
        }  # fmt: skip
    for beside in week.probes:
        if beside.now.days or beside.before is not None or beside.year_ago is not None:
            parts = {"this": beside.now, "before": beside.before, "year_ago": beside.year_ago}
            yield {"event": "probe", "probe": beside.now.probe} | {key: _figures(of) for key, of in parts.items()}
    for other in week.others:
        if other.now.mean is not None:
            both = {"this": other.now, "before": other.before, "year_ago": other.year_ago}
            yield {"event": "probe", "probe": other.now.probe} | {key: _warmth(of) for key, of in both.items()}
    if week.rain is not None:
        days = [{"date": on, "mm": rounded(mm, 2)} for on, mm in week.rain.by_day]
        both_mm = {"before": rounded(week.rain.before, 2), "year_ago": rounded(week.rain.year_ago, 2)}
        yield {"event": "rainfall", "mm": rounded(week.rain.mm, 2), **both_mm, "days": days}
    if stretch.days:
        yield performance_line(week.performance, zone)
    for said in sentences(week):
        figures = {key: rounded(value) for key, value in said.figures.items()}
        yield {"event": "sentence", "about": said.about, "text": said.text, "figures": figures}


class _Lines(list[str]):
    """What the writer of rows writes to."""

    write = list.append


def table(week: Week) -> str:
    """The days, one row a day and probe, with their nights' forecasts of three hours after sunset."""
    fell = {} if week.rain is None else dict(week.rain.by_day)
    fixed = {(day.date, each.probe): (day, each.grade) for each in week.corrections for day in each.days}
    told = {(night.date, night.probe): night.later for night in week.nights}
    out, doubted = _Lines(), week.doubted
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for day in week.stretch.days:
        plain = day_line(day, week.zone)
        corrected, grade = fixed.get((day.date, day.probe), (None, None))
        later = told.get((day.date, day.probe))
        plain |= {
            "dawn_low_corrected": rounded(corrected and corrected.dawn_low),
            "dusk_high_corrected": rounded(corrected and corrected.dusk_high),
            "grade": "" if grade is None else grade.label,
            "forecast_low": later and later.low, "forecast_p10": later and later.low_p10,
            "forecast_p90": later and later.low_p90, "partial": str(day.partial).lower(),
            "rain_mm": rounded(fell.get(day.date), 2),
            "doubted": str((day.date, day.probe) in doubted).lower(),
        }  # fmt: skip
        rows.writerow(["" if plain[name] is None else plain[name] for name in COLUMNS])
    return "".join(out)


def _night(week: Week, night: SeenNight) -> dict[str, Any]:
    def said(told: Told | None) -> dict[str, Any] | None:
        if told is None:
            return None
        return {
            "time": iso(told.at, week.zone), "low": told.low, "low_p10": told.low_p10, "low_p90": told.low_p90,
            "at": iso(told.low_at, week.zone),
        }  # fmt: skip

    return {
        "event": "night", "night": night.date, "probe": night.probe, "at_sunset": said(night.at_sunset),
        "three_hours_later": said(night.later), "last_before_sunrise": said(night.last),
        "dawn_low": rounded(night.came), "within": night.within, "error": rounded(night.error),
    }  # fmt: skip


def _episode(each: Episode, zone: tzinfo) -> dict[str, Any]:
    def at(moment: int | None) -> str | None:
        return None if moment is None else iso(moment, zone)

    after = each.answered_after
    return {
        "event": "episode", "id": each.id, "alarm": each.alarm, "probe": each.probe, "priority": each.priority,
        "since": at(each.since), "raised": at(each.raised_at), "acknowledged": at(each.acknowledged_at),
        "by": each.acknowledged_by or None, "minutes_to_acknowledge": rounded(after and after / MINUTE_MS, 2),
        "ended": at(each.ended_at), "shelved": each.shelved, "text": each.text,
    }  # fmt: skip


def _figures(of: Summary | None) -> dict[str, Any] | None:
    if of is None:
        return None
    plain = {key: value for key, value in asdict(of).items() if key != "probe"}
    for key in ("lowest", "highest", "widest"):
        plain[key] = None if plain[key] is None else {"value": rounded(plain[key][0]), "date": plain[key][1]}
    return {key: rounded(value) if isinstance(value, float) else value for key, value in plain.items()}


def _warmth(of: Warmth | None) -> dict[str, Any] | None:
    if of is None:
        return None
    days = [{"date": on, "low": low, "high": high, "mean": rounded(mean)} for on, low, high, mean in of.by_day]
    return {
        "quantity": of.quantity, "lowest": of.lowest, "highest": of.highest, "mean": rounded(of.mean), "days": days,
    }  # fmt: skip
