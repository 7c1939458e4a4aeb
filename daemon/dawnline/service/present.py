"""The present: what `now.json` says and what goes out by MQTT, read off the core between commits."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import tzinfo
from typing import TYPE_CHECKING, Any

from dawnline.alarms.states import VISIBLE, State
from dawnline.contract import day_line, rounded
from dawnline.duration import DAY_MS, HOUR_MS, iso, local_date, local_ms
from dawnline.electrode.electrode import describe
from dawnline.event import PRIORITIES
from dawnline.outlook.ph_watch import PhWatch
from dawnline.outlook.rain_book import fallen_mm
from dawnline.outlook.rain_gauge import RainGauge
from dawnline.outlook.tonight import LEAST_NIGHTS
from dawnline.pipeline import Pipeline
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag
from dawnline.service.clock import wall_s
from dawnline.settings import Settings

if TYPE_CHECKING:  # `status` reads the present too, and must not load what only the service needs
    from dawnline.delivery.forward.forwarder import Forwarder
    from dawnline.delivery.mqtt_state import MqttState
    from dawnline.service.core import Core
    from dawnline.service.now_file import NowFile
    from dawnline.service.pulse import Pulse


def snapshot(pipeline: Pipeline, settings: Settings) -> dict[str, Any]:
    """Values, flags, the running day and alarms, as far as the fold knows them."""
    zone, now = settings.pond.zone, pipeline.now
    probes: dict[str, Any] = {}
    today: list[dict[str, Any]] = []
    tonight: list[dict[str, Any]] = []
    for name, watch in pipeline.watches.items():
        probe: dict[str, Any] = {
            "quantity": watch.quantity,
            "unit": QUANTITIES[watch.quantity].unit,
            "value": None,
        }
        if watch.newest is not None:
            at, value, flag = watch.newest
            probe |= {
                "value": value,
                "flag": Flag(flag).label,
                "time": iso(at, zone),
                "age_s": (now - at) / 1000,
            }
        probe["out_until"] = iso(watch.out_until, zone) if watch.out_until > now else None
        probe["repeated"] = watch.judge.order.repeats
        if isinstance(watch, RainGauge):
            probe["gauge"] = "accumulation" if watch.rain.accumulates else "amount"
        if isinstance(watch, PhWatch):
            probe |= _electrode(watch, now, zone)
            probe["swing_24h"] = rounded(watch.swing.figure(now))
            probe["nights_wanting"] = max(LEAST_NIGHTS - len(watch.slide.tonight.lows()), 0)
            day = None if pipeline.unset.since is not None else watch.rhythm.so_far(now, watch.interval)
            today += [] if day is None else [day_line(day, zone)]
            night = watch.slide.body()
            tonight += [] if night is None else [night]
        probes[name] = probe
    return {
        "time": iso(now, zone),
        "clock_set": pipeline.unset.since is None,
        "probes": probes,
        "today": today,
        "tonight": tonight,
        "buffer": {**pipeline.buffer.latest, **pipeline.buffer.evidence},
        "ammonia": pipeline.ammonia.body(now),
        "rain": _rain(pipeline, zone),
        "reminders": _reminders(pipeline, zone),
        "weekly": pipeline.weekly.body(now),
        "alarms": open_alarms(pipeline, settings),
    }


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


def presenter(
    settings: Settings,
    now_file: NowFile,
    state: MqttState | None,
    pulse: Pulse,
    forwarder: Forwarder | None = None,
) -> Callable[[Core], None]:
    """What the core calls about once a second."""
    started = wall_s()

    def present(core: Core) -> None:
        pulse.beat(core.pipeline)
        data = snapshot(core.pipeline, settings)
        now_file.write(
            {
                "version": 1,
                "pond": settings.pond.name,
                "pid": os.getpid(),
                "started_at": started,
                "written_at": wall_s(),
                "rate": core.clock.rate,
                "clock_behind_ms": core.clock.behind_ms,
                **data,
                "links": [link.report().as_json() for link in core.links],
                "queue": len(core.intake),
                "commits": core.commits,
                "post": core.post.as_json(),
                "store": core.keeping.as_json(),
                "heartbeat": None if pulse.heartbeat is None else pulse.heartbeat.as_json(),
                "forwarding": None if forwarder is None else _forwarding(forwarder, settings.pond.zone),
            }
        )
        if state is not None:
            shown = [row for row in data["alarms"] if State(row["state"]) in VISIBLE]
            state.publish(_properties(data, shown, state), _alerts(shown, state))

    return present


def _forwarding(forwarder: Forwarder, zone: tzinfo) -> dict[str, Any]:
    said = forwarder.as_json()
    return {**said, "up_to": None if said["up_to"] is None else iso(said["up_to"], zone)}


def _properties(data: dict[str, Any], shown: list[dict[str, Any]], state: MqttState) -> dict[str, str]:
    values = {}
    for name, probe in data["probes"].items():
        if probe["value"] is not None:
            node = state.nodes[name]
            values[f"{node}/value"] = f"{probe['value']:.3f}"
            values[f"{node}/flag"] = probe["flag"]
            if probe["quantity"] == "electrode_mv":
                values[f"{node}/ph"] = f"{probe['ph']:.3f}"
    for day in data["today"][:1]:
        for key, name in (("dawn_low", "dawn-low"), ("dusk_high", "dusk-high"), ("swing", "swing")):
            values[f"pond/{name}"] = "" if day[key] is None else f"{day[key]:.2f}"
    for name, key in (("tonight-low", "low"), ("tonight-low-p10", "low_p10"), ("tonight-low-p90", "low_p90")):
        values[f"pond/{name}"] = "".join(f"{night[key]:.2f}" for night in data["tonight"][:1])
    values["pond/rain-24h"] = f"{data['rain']['last_24h_mm']:.1f}" if data.get("rain") else ""
    values["pond/buffer-trend"] = data["buffer"].get("trend") or ""
    values["pond/reaches-low-on"] = data["buffer"].get("reaches_low_on") or ""
    values["alarms/count"] = str(len(shown))
    values["alarms/priority"] = max((row["priority"] for row in shown), key=PRIORITIES.index, default="none")
    values["alarms/unacknowledged"] = ",".join(
        str(row["id"]) for row in shown if row["state"] == State.UNACKNOWLEDGED.value
    )
    values["alarms/text"] = "; ".join(f"{row['title']}: {row['text']}" for row in shown)[:500]
    return values


def _alerts(shown: list[dict[str, Any]], state: MqttState) -> dict[str, str]:
    """What stands, a text for each alarm and probe, by an ID that is the same as long as it stands."""
    return {
        row["alarm"] + (f"-{state.nodes[row['probe']]}" if row["probe"] else ""): f"{row['title']}: {row['text']}"
        for row in shown
        if row["probe"] is None or row["probe"] in state.nodes
    }
