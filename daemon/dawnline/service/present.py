"""The present, written to `now.json` and sent out by MQTT about once a second, read off the core between commits."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import tzinfo
from typing import Any

from dawnline.alarms.states import VISIBLE, State
from dawnline.delivery.forward.forwarder import Forwarder
from dawnline.delivery.mqtt_state import MqttState
from dawnline.duration import iso
from dawnline.event import PRIORITIES
from dawnline.service.clock import wall_s
from dawnline.service.core import Core
from dawnline.service.now_file import NowFile
from dawnline.service.pulse import Pulse
from dawnline.service.snapshot import snapshot
from dawnline.settings import Settings


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
        node = state.nodes[name]
        values[f"{node}/doubt"] = _why_not(probe)
        if probe["value"] is not None:
            values[f"{node}/value"] = f"{probe['value']:.3f}"
            values[f"{node}/flag"] = probe["flag"]
            if probe["quantity"] == "electrode_mv":
                values[f"{node}/ph"] = f"{probe['ph']:.3f}"
    for day in data["today"][:1]:
        for key, name in (("dawn_low", "dawn-low"), ("dusk_high", "dusk-high"), ("swing", "swing")):
            values[f"pond/{name}"] = "" if day[key] is None else f"{day[key]:.2f}"
    for name, key in (("tonight-low", "low"), ("tonight-low-p10", "low_p10"), ("tonight-low-p90", "low_p90")):
        values[f"pond/{name}"] = "".join(f"{night[key]:.2f}" for night in data["tonight"][:1])
    of = {row["probe"]: data["probes"][row["probe"]]["doubt"] for row in (*data["today"][:1], *data["tonight"][:1])}
    values["pond/doubt"] = "; ".join(f"{name}: {doubt}" for name, doubt in of.items() if doubt)
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


def _why_not(probe: dict[str, Any]) -> str:
    """Why the value of a probe is not to be trusted as the present one; "" where nothing speaks against it."""
    out = f"out of service until {probe['out_until']}" if probe["out_until"] else ""
    return probe["silent"] or out or probe["doubt"] or ""


def _alerts(shown: list[dict[str, Any]], state: MqttState) -> dict[str, str]:
    """What stands, a text for each alarm and probe, by an ID that is the same as long as it stands."""
    return {
        row["alarm"] + (f"-{state.nodes[row['probe']]}" if row["probe"] else ""): f"{row['title']}: {row['text']}"
        for row in shown
        if row["probe"] is None or row["probe"] in state.nodes
    }
