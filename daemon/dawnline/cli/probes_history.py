"""`dawnline probes list` and `probes history NAME`: what is known of each electrode."""

from __future__ import annotations

import json
import sys
from datetime import UTC, tzinfo
from typing import Any

from dawnline.cli.ph_probe import ph_probe
from dawnline.contract import rounded
from dawnline.duration import iso, local_date, parse_time, show_duration
from dawnline.electrode.wear import offset_trend, slope_trend, wear
from dawnline.errors import DawnlineError
from dawnline.queries.present import find_present
from dawnline.queries.probe_history import REFUSED, ProbeHistory, probe_history
from dawnline.settings import Settings
from dawnline.store.reader import Reader


def show_list(settings: Settings, *, as_json: bool) -> int:
    """Each probe in a line, a pH probe with its calibration: 1 where there is a store, and it cannot be read."""
    status = 0
    try:
        now = find_present(settings).data
        known, at = now["probes"], parse_time(now["time"], UTC) if now["time"] else 0
    except DawnlineError as error:  # neither a service nor a store yet, unless it cannot be read
        known, at = {}, 0
        if settings.store.path.exists():
            print(f"dawnline: {error}", file=sys.stderr)
            status = 1
    if as_json:
        rows = [
            {"name": each.name, "quantity": each.quantity, "link": each.link, "where": each.where,
             "calibration": known.get(each.name, {}).get("calibration")}
            for each in settings.probes
        ]  # fmt: skip
        print(json.dumps({"version": 1, "probes": rows}, ensure_ascii=False))
        return status
    for probe in settings.probes:
        print(f"{probe.name:<12} {probe.quantity:<18} {probe.link:<8} {probe.where}")
        for line in _state(known.get(probe.name, {}).get("calibration"), at):
            print(f"{'':<12} {line}")
    return status


def _state(held: dict[str, Any] | None, now: int) -> list[str]:
    if held is None:
        return []
    when = ""
    if held["time"]:
        when = f"calibrated {held['time'][:10]}, {show_duration(now - parse_time(held['time'], UTC))} ago: "
    check = held["last_check"]
    checked = [f"checked {check['time'][:10]}: {check['error']:+.2f} pH at {check['buffer_ph']:.2f}"] if check else []
    return [f"{when}{held['text']}", *checked, *(f"due: {why}" for why in held["due"])]


def show_history(settings: Settings, name: str, *, as_json: bool) -> int:
    """All that was done at one pH probe, with the trend: 1 where nothing was."""
    probe, zone = ph_probe(settings, name), settings.pond.zone
    with Reader.open(settings.store.path) as reader:
        found = probe_history(reader, probe)
    if as_json:
        print(json.dumps(_object(name, found, zone), ensure_ascii=False))
        return 0 if found.shown else 1
    for act, line in found.shown:
        print(f"{iso(act.at, zone)[:16]}  {act.kind:<13} {line}")
    if not found.shown:
        print(f"{name} was never calibrated, checked or cleaned")
        return 1
    print("\n".join(["", *found.trend(zone)]))
    return 0


def _object(name: str, found: ProbeHistory, zone: tzinfo) -> dict[str, Any]:
    kept = found.kept
    trends = {"slope": slope_trend(kept), "offset": offset_trend(kept)}
    ends = wear(kept, zone)
    return {
        "version": 1, "probe": name,
        "history": [
            {"time": iso(act.at, zone), "act": act.kind, "accepted": not text.startswith(REFUSED), "text": text,
             "by": act.actor, "says": dict(act.body)}
            for act, text in found.shown
        ],
        **{f"{what}_a_month": None if each is None else rounded(each.a_month) for what, each in trends.items()},
        **{f"{what}_give_or_take": None if each is None else rounded(2 * each.error) for what, each in trends.items()},
        "worn_out": {
            "earliest": None if ends.earliest is None else local_date(ends.earliest, zone).isoformat(),
            "latest": None if ends.latest is None else local_date(ends.latest, zone).isoformat(),
            "text": ends.text,
        },
    }  # fmt: skip
