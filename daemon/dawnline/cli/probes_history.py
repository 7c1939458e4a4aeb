"""`dawnline probes list` and `probes history NAME`: what is known of each electrode."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, tzinfo
from typing import Any, Final

from dawnline.cli.ph_probe import ph_probe
from dawnline.contract import rounded
from dawnline.duration import iso, local_date, parse_time, show_duration
from dawnline.electrode.calibration import MV, Calibration
from dawnline.electrode.electrode import describe
from dawnline.electrode.layer import Layer
from dawnline.electrode.wear import Trend, offset_trend, slope_trend, wear
from dawnline.errors import DawnlineError
from dawnline.event import Act
from dawnline.logbook.acts import CARE
from dawnline.logbook.ledger import standing
from dawnline.queries.present import find_present
from dawnline.settings import Settings
from dawnline.store.reader import Reader

_REFUSED: Final = "refused: "


def show_list(settings: Settings, *, as_json: bool) -> int:
    """Each probe in a line, a pH probe with its calibration."""
    try:
        now = find_present(settings).data
        known, at = now["probes"], parse_time(now["time"], UTC) if now["time"] else 0
    except DawnlineError:  # neither a service nor a store yet
        known, at = {}, 0
    if as_json:
        rows = [
            {"name": each.name, "quantity": each.quantity, "link": each.link, "where": each.where,
             "calibration": known.get(each.name, {}).get("calibration")}
            for each in settings.probes
        ]  # fmt: skip
        print(json.dumps({"version": 1, "probes": rows}, ensure_ascii=False))
        return 0
    for probe in settings.probes:
        print(f"{probe.name:<12} {probe.quantity:<18} {probe.link:<8} {probe.where}")
        for line in _state(known.get(probe.name, {}).get("calibration"), at):
            print(f"{'':<12} {line}")
    return 0


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
        rows = reader.acts()
    said = {row.act.id: row.text for row in rows}
    done = standing(row.act for row in rows if row.accepted)
    layer = Layer(name, probe.quantity, done)
    shown = [(act, _line(act, said[act.id], layer)) for act in done if _at(act, name)]
    shown += [(row.act, f"{_REFUSED}{row.text}") for row in rows if not row.accepted and _at(row.act, name)]
    shown.sort(key=lambda each: each[0].at)
    if as_json:
        print(json.dumps(_object(name, shown, layer, zone), ensure_ascii=False))
        return 0 if shown else 1
    for act, line in shown:
        print(f"{iso(act.at, zone)[:16]}  {act.kind:<13} {line}")
    if not shown:
        print(f"{name} was never calibrated, checked or cleaned")
        return 1
    print()
    for line in _trend(layer.calibrations):
        print(line)
    print(f"electrode: {wear(layer.calibrations, zone).text}")
    return 0


def _object(name: str, shown: Sequence[tuple[Act, str]], layer: Layer, zone: tzinfo) -> dict[str, Any]:
    kept = layer.calibrations
    trends = {"slope": slope_trend(kept), "offset": offset_trend(kept)}
    ends = wear(kept, zone)
    return {
        "version": 1, "probe": name,
        "history": [
            {"time": iso(act.at, zone), "act": act.kind, "accepted": not text.startswith(_REFUSED), "text": text,
             "by": act.actor, "says": dict(act.body)}
            for act, text in shown
        ],
        **{f"{what}_a_month": None if each is None else rounded(each.a_month) for what, each in trends.items()},
        **{f"{what}_give_or_take": None if each is None else rounded(2 * each.error) for what, each in trends.items()},
        "worn_out": {
            "earliest": None if ends.earliest is None else local_date(ends.earliest, zone).isoformat(),
            "latest": None if ends.latest is None else local_date(ends.latest, zone).isoformat(),
            "text": ends.text,
        },
    }  # fmt: skip


def _at(act: Act, probe: str) -> bool:
    return act.kind in CARE and act.body.get("probe") == probe


def _line(act: Act, said: str, layer: Layer) -> str:
    """What was done, in a line; `said` is what was answered then."""
    if act.kind == "calibrated":
        slow = act.body.get("settled_s")
        found = describe(layer.in_force(act.at))
        return found + (f", steady after {float(slow):.0f} s" if slow is not None else "")
    return said.partition(": ")[2] if act.kind == "buffer-check" else _cleaning(act.body)


def _cleaning(body: Any) -> str:
    keys = ("before", "after", "meter_before", "meter_after")
    return ", ".join(f"{key.replace('_', ' ')} {float(body[key]):.2f}" for key in keys if key in body)


def _trend(kept: Sequence[Calibration]) -> list[str]:
    unit = "mV" if kept and kept[-1].quantity == MV else "pH"
    rows = (("slope", slope_trend(kept), "%", 2), ("offset", offset_trend(kept), unit, 1 if unit == "mV" else 3))
    return [f"{name:<9} {_rate(found, mark, digits)}" for name, found, mark, digits in rows]


def _rate(found: Trend | None, unit: str, digits: int) -> str:
    if found is None:
        return "no trend yet: it takes three calibrations over a month"
    sure = "" if found.clear else ", which may be chance"
    return f"{found.a_month:+.{digits}f} {unit} a month, give or take {2 * found.error:.{digits}f}{sure}"
