"""The present as far as the fold knows it: values, flags, the running day, what is foreseen, alarms; plain JSON."""

from __future__ import annotations

from datetime import tzinfo
from typing import Any

from dawnline.alarms.states import State
from dawnline.contract import day_line, rounded
from dawnline.duration import DAY_MS, HOUR_MS, iso, local_date, local_ms
from dawnline.electrode.electrode import describe
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.rain_book import fallen_mm
from dawnline.outlook.rain_gauge import RainGauge
from dawnline.outlook.tonight import LEAST_NIGHTS
from dawnline.outlook.watch import Watch
from dawnline.pipeline import Pipeline
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag
from dawnline.settings import Settings


def snapshot(pipeline: Pipeline, settings: Settings) -> dict[str, Any]:
    """Values, flags, the running day and alarms, as far as the fold knows them."""
    zone, now = settings.pond.zone, pipeline.now
    today: list[dict[str, Any]] = []
    tonight: list[dict[str, Any]] = []
    for watch in pipeline.watches.values():
        if isinstance(watch, PhWatch):
            day = None if pipeline.unset.since is not None else watch.rhythm.so_far(now, watch.interval)
            today += [] if day is None else [day_line(day, zone)]
            night = watch.slide.body()
            tonight += [] if night is None else [night]
    return {
        "time": iso(now, zone),
        "clock_set": pipeline.unset.since is None,
        "probes": {watch.probe: _probe(pipeline, watch, zone) for watch in pipeline.watches.values()},
        "today": today,
        "tonight": tonight,
        "buffer": {**pipeline.buffer.latest, **pipeline.buffer.evidence},
        "ammonia": pipeline.ammonia.body(now),
        "rain": _rain(pipeline, zone),
        "reminders": _reminders(pipeline, zone),
        "weekly": pipeline.weekly.body(now),
        "alarms": open_alarms(pipeline, settings),
    }


def _probe(pipeline: Pipeline, watch: Watch, zone: tzinfo) -> dict[str, Any]:
    """One probe: what it read last, and how far that is to be believed; the reading itself is kept as `kept_flag`."""
    now = pipeline.now
    probe: dict[str, Any] = {"quantity": watch.quantity, "unit": QUANTITIES[watch.quantity].unit, "value": None}
    doubt, silent = pipeline.desk.doubt(watch.probe), pipeline.desk.evidence("no-data", watch.probe)
    if watch.newest is not None:
        at, value, flag = watch.newest
        silent = silent if now - at > watch.patience else None  # the alarm stands a while after it has spoken again
        out = watch.out_until > now
        trust = Flag(flag).of_the_present(silent=silent is not None, out=out, doubted=doubt is not None)
        probe |= {"value": value, "flag": trust.label, "kept_flag": Flag(flag).label}
        probe |= {"time": iso(at, zone), "age_s": (now - at) / 1000}
    probe["doubt"], probe["silent"] = doubt, silent
    probe["out_until"] = iso(watch.out_until, zone) if watch.out_until > now else None
    probe["repeated"] = watch.judge.order.repeats
    if isinstance(watch, RainGauge):
        probe["gauge"] = "accumulation" if watch.rain.accumulates else "amount"
    if isinstance(watch, PhWatch):
        probe |= _electrode(watch, now, zone)
        probe["usual_now"] = _usual_now(watch, now) if pipeline.unset.since is None else None
        probe["swing_24h"] = rounded(watch.swing.figure(now))
        probe["nights_wanting"] = max(LEAST_NIGHTS - len(watch.slide.tonight.lows()), 0)
    return probe


def _usual_now(watch: PhWatch, now: int) -> dict[str, Any] | None:
    """What earlier days did at this hour of the sun, the pH and how far it falls; None while that is not known."""
    usual = watch.drop.usual() if watch.live(now) else None
    if usual is None:
        return None
    return {"ph": rounded(usual.level), "fall_15_min": rounded(usual.falls[0]), "fall_60_min": rounded(usual.falls[1])}


def _rain(pipeline: Pipeline, zone: tzinfo) -> dict[str, Any]:
    """What fell of late, by gauge and logbook [mm]; nothing where nobody has said a word, or time is provisional."""
    heard = any(gauge.newest is not None for gauge in pipeline.gauges)
    if pipeline.unset.since is not None or not (heard or pipeline.rain.by_hand):
        return {}
    now = pipeline.now
    fell = pipeline.rain.counted(now - DAY_MS, [row for gauge in pipeline.gauges[:1] for row in gauge.so_far()])
    figures = {
        "last_hour_mm": now - HOUR_MS,
        "today_mm": local_ms(local_date(now, zone), zone),
        "last_24h_mm": now - DAY_MS,
    }
    return {
        "probe": pipeline.gauges[0].probe if pipeline.gauges else None,
        **{name: rounded(fallen_mm(fell, since, now), 2) for name, since in figures.items()},
    }


def _reminders(pipeline: Pipeline, zone: tzinfo) -> list[dict[str, Any]]:
    """What is due by the logbook, and what comes next; nothing while time is provisional."""
    if pipeline.unset.since is not None or not pipeline.reminders.began:
        return []
    rows = pipeline.reminders.all(pipeline.buffer.latest, pipeline.now)
    return [
        {
            "name": each.name,
            "what": each.what,
            "last": None if each.last is None else iso(each.last, zone),
            "due": iso(each.due_at, zone),
            "overdue": each.due_at <= pipeline.now,
            "text": each.text,
        }
        for each in rows
    ]


def _electrode(watch: PhWatch, now: int, zone: tzinfo) -> dict[str, Any]:
    """pH by the calibration in force, and what that rests on."""
    electrode = watch.electrode
    held, check = electrode.in_force, electrode.history.checks[-1] if electrode.history.checks else None
    checked = (
        {"time": iso(check.at, zone), "buffer_ph": check.buffer_ph, "error": rounded(check.error)} if check else None
    )
    return {
        "ph": rounded(electrode.ph(watch.newest[1])) if watch.newest is not None else None,
        "interval_s": watch.judge.order.interval and watch.judge.order.interval / 1000,
        "compensation": electrode.compensation(now),
        "calibration": {
            "time": None if held.never else iso(held.at, zone),
            "text": "never calibrated" if held.never else describe(held),
            "slope": rounded(held.slope, 2),
            "offset": rounded(held.offset),
            "zero_point_ph": rounded(held.zero_point_ph),
            "due": electrode.reasons,
            "under_way_until": iso(electrode.work_until, zone) if electrode.work_until > now else None,
            "last_check": checked,
        },
    }


def open_alarms(pipeline: Pipeline, settings: Settings) -> list[dict[str, Any]]:
    """Every alarm that is not normal, the most urgent first."""
    zone, rows = settings.pond.zone, []
    for alarm, probe, memory in pipeline.desk.active():
        hidden = [until for until in (memory.out_until, memory.shelved_until, memory.suppressed_until) if until]
        in_hand = memory.state in (State.ACKNOWLEDGED, State.SHELVED)
        rows.append(
            {
                "id": None if memory.ended and memory.state is not State.RETURNED else memory.id,
                "alarm": alarm,
                "title": pipeline.desk.kinds[alarm].title,
                "probe": probe,
                "state": memory.state.value,
                "priority": pipeline.desk.kinds[alarm].priority if memory.id is None else memory.priority,
                "since": iso(memory.since, zone) if memory.since else None,
                "value": rounded(memory.value),
                "text": memory.evidence,
                "told": [] if memory.id is None else pipeline.telling.told(memory.id),
                "by": memory.actor if in_hand else "",
                "why": memory.why if in_hand else "",
                "until": iso(max(hidden), zone) if hidden else None,
            }
        )
    return rows
