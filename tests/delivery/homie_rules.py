"""The rules of the Homie convention, version 5.0, that concern a device, written down from its text
(homieiot.github.io/specification, sections MQTT Restrictions, Payloads, Topology, Alert topic), not from our code.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any, NamedTuple

ID = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")
STATES = ("init", "ready", "disconnected", "sleeping", "lost")
DATATYPES = ("integer", "float", "boolean", "string", "enum", "color", "datetime", "duration", "json")
DEVICE_FIELDS = {"homie": str, "version": int, "name": str, "nodes": dict, "type": str, "children": list,
                 "root": str, "parent": str, "extensions": list}  # fmt: skip
PROPERTY_FIELDS = {"name": str, "datatype": str, "format": str, "settable": bool, "retained": bool, "unit": str}


class Sent(NamedTuple):
    """One message as the broker passed it on: `retained` is what the sender asked for."""

    topic: str
    payload: bytes
    retained: bool


def broken(sent: Iterable[Sent], device: str) -> list[str]:
    """Every rule that this traffic of one device breaks."""
    faults: list[str] = []
    base, state, description = f"homie/5/{device}/", "", None
    if not ID.fullmatch(device):
        faults.append(f"device ID {device!r}")
    for topic, payload, retained in sent:
        if not topic.startswith(base):
            faults.append(f"{topic}: outside of the device")
            continue
        path = topic.removeprefix(base)
        try:
            text = payload.decode("utf-8")
        except UnicodeDecodeError:
            faults.append(f"{topic}: not UTF-8")
            continue
        if text.startswith("\ufeff"):
            faults.append(f"{topic}: begins with a BOM")
        if path == "$state":
            faults += [] if text in STATES else [f"$state is {text!r}"]
            if text == "ready" and description is None:
                faults.append("ready before $description")
            state = text
        elif path == "$description":
            if state not in ("init", "disconnected", "lost"):
                faults.append(f"$description changed while {state!r}")
            description = json.loads(text)
            faults += _description(description)
        elif path.startswith("$alert/"):
            faults += [] if ID.fullmatch(path.removeprefix("$alert/")) else [f"alert ID in {path!r}"]
        else:
            faults += _value(path, text, retained, description)
            continue
        if not retained:
            faults.append(f"{topic}: not retained")
    return faults


def _description(found: dict[str, Any]) -> list[str]:
    faults = [f"$description: unknown field {name}" for name in found.keys() - DEVICE_FIELDS.keys()]
    faults += [f"$description: {name} is missing" for name in ("homie", "version", "name") if name not in found]
    faults += [
        f"$description: {name} is no {kind.__name__}"
        for name, kind in DEVICE_FIELDS.items()
        if name in found and type(found[name]) is not kind
    ]
    if not re.fullmatch(r"5\.\d+", str(found.get("homie"))):
        faults.append("$description: homie is not 5.x")
    for node, each in found.get("nodes", {}).items():
        faults += [] if ID.fullmatch(node) else [f"node ID {node!r}"]
        faults += [f"{node}: unknown field {name}" for name in each.keys() - {"name", "type", "properties"}]
        for name, described in each.get("properties", {}).items():
            faults += [] if ID.fullmatch(name) else [f"property ID {name!r}"]
            faults += [f"{node}/{name}: {fault}" for fault in _property(described)]
    return faults


def _property(found: dict[str, Any]) -> list[str]:
    faults = [f"unknown field {name}" for name in found.keys() - PROPERTY_FIELDS.keys()]
    faults += [
        f"{name} is no {kind.__name__}"
        for name, kind in PROPERTY_FIELDS.items()
        if name in found and type(found[name]) is not kind
    ]
    if found.get("datatype") not in DATATYPES:
        faults.append(f"datatype {found.get('datatype')!r}")
    if found.get("datatype") == "enum":
        choices = found.get("format", "").split(",")
        if "" in choices or len(set(choices)) != len(choices):
            faults.append(f"format {found.get('format')!r} of an enum")
    return faults


def _value(path: str, text: str, retained: bool, description: dict[str, Any] | None) -> list[str]:
    node, _, name = path.partition("/")
    try:
        described = (description or {})["nodes"][node]["properties"][name]
    except KeyError:
        return [f"{path}: not in the description"]
    faults = [] if retained == described.get("retained", True) else [f"{path}: retained is {retained}"]
    if text == "" and retained:  # an empty payload deletes the topic: there is no value
        return faults
    fits = {
        "string": lambda: text != "",  # the empty text is one zero byte
        "integer": lambda: re.fullmatch(r"-?[0-9]+", text) is not None and -(2**63) <= int(text) < 2**63,
        "float": lambda: re.fullmatch(r"-?[0-9]+(\.[0-9]+)?([eE]-?[0-9]+)?", text) is not None,
        "enum": lambda: text in described["format"].split(","),
    }[described["datatype"]]
    return faults if fits() else [*faults, f"{path}: {text!r} is no {described['datatype']}"]
