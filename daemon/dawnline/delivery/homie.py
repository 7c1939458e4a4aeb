"""The pond as one device of the Homie convention, version 5.0 (homieiot.github.io): topics and description.

    homie/5/DEVICE/$state          init, ready, disconnected; lost is the last will
    homie/5/DEVICE/$description    JSON, fixed while the device is ready
    homie/5/DEVICE/NODE/PROPERTY   one value, retained
    homie/5/DEVICE/$alert/ID       the text of an alarm that stands; taken away when it is over
    homie/5/DEVICE/alarms/acknowledge/set   the number of an alarm that somebody has: the answer is in alarms/answer

Nodes: one for each probe (`value`, `flag`, `doubt`), `pond` and `alarms`. An ID has only a-z, 0-9 and inner hyphens.
"""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from dawnline.event import PRIORITIES
from dawnline.quantity import Quantity
from dawnline.reading import Flag

ROOT = "homie/5"
_FLOAT = re.compile(r"-?\d+(\.\d+)?([eE]-?\d+)?", re.ASCII)
_INTEGER = re.compile(r"-?\d+", re.ASCII)
_UNITS = {"degC": "°C"}  # the convention's own spelling


@dataclass(frozen=True, slots=True)
class Property:
    """One property: `choices` are the values of an enum, `unit` stands beside a number.

    One that is not `retained` is an event: it is told once, to those who listen.
    """

    name: str
    datatype: Literal["float", "integer", "string", "enum"]
    unit: str = ""
    choices: tuple[str, ...] = ()
    settable: bool = False
    retained: bool = True

    def takes(self, value: str) -> bool:
        """Whether the convention allows `value` here; an empty one takes a number or a choice away."""
        match self.datatype:
            case "float":
                return not value or _FLOAT.fullmatch(value) is not None
            case "integer":
                return not value or _INTEGER.fullmatch(value) is not None
            case "enum":
                return not value or value in self.choices
        return True

    def payload(self, value: str) -> str:
        """`value` as sent; an empty string is one zero byte, for an empty payload would delete the topic."""
        return "\0" if self.datatype == "string" and not value else value

    def describe(self) -> dict[str, str | bool]:
        """This property in the description document; what is as by default is left out."""
        flags = ({"settable": True} if self.settable else {}) | ({} if self.retained else {"retained": False})
        parts = {
            "name": self.name,
            "datatype": self.datatype,
            "unit": self.unit,
            "format": ",".join(self.choices),
        }
        return {**{key: text for key, text in parts.items() if text}, **flags}


POND = {
    "swing": Property("Swing of today, once its dusk is known", "float", "pH"),
    "dawn-low": Property("Dawn low of today", "float", "pH"),
    "dusk-high": Property("Dusk high of today, so far", "float", "pH"),
    "tonight-low": Property("Forecast of the coming dawn low", "float", "pH"),
    "tonight-low-p10": Property("The same, low bound (10 %)", "float", "pH"),
    "tonight-low-p90": Property("The same, high bound (90 %)", "float", "pH"),
    "doubt": Property("Why the pH probe of these figures is doubted", "string"),
    "rain-24h": Property("Rain of the last 24 hours", "float", "mm"),
    "buffer-trend": Property("Buffer", "enum", choices=("falling", "steady", "rising", "unclear")),
    "reaches-low-on": Property("Day on which the dawn low reaches the limit", "string"),
}
ALARMS = {
    "priority": Property("Highest active priority", "enum", choices=("none", *PRIORITIES)),
    "count": Property("Active alarms", "integer"),
    "text": Property("What it says", "string"),
    "unacknowledged": Property("Numbers of the alarms that nobody has acknowledged", "string"),
    "acknowledge": Property("Say that you have the alarm of this number", "integer", settable=True, retained=False),
    "answer": Property("What became of the last acknowledgement", "string", retained=False),
}
ACKNOWLEDGE = "alarms/acknowledge"
ANSWER = "alarms/answer"


def device_id(pond_name: str) -> str:
    """The ID of a pond: its name in small letters; where that loses letters, with a mark that tells it apart.

    >>> device_id("Heron Lane"), device_id("Teich Süd")
    ('heron-lane', 'teich-s-d-f720')
    """
    slug = _slug(pond_name)
    if slug.replace("-", " ") == pond_name.lower():
        return slug
    mark = hashlib.blake2b(pond_name.encode("utf-8", "replace"), digest_size=2).hexdigest()
    return f"{slug or 'pond'}-{mark}"


def node_ids(probes: Iterable[str]) -> dict[str, str]:
    """The node of each probe name, never one that is taken.

    >>> node_ids(["ph", "deep_end", "deep-end", "pond"])
    {'ph': 'ph', 'deep_end': 'deep-end', 'deep-end': 'deep-end-2', 'pond': 'pond-2'}
    """
    taken, nodes = {"pond", "alarms"}, {}
    for probe in probes:
        slug, number = _slug(probe) or "probe", 2
        node = slug
        while node in taken:
            node, number = f"{slug}-{number}", number + 1
        taken.add(node)
        nodes[probe] = node
    return nodes


def properties(probes: Mapping[str, Quantity]) -> dict[str, Property]:
    """All properties of the device by "node/property"."""
    flags = tuple(flag.label for flag in Flag)
    found = {}
    for probe, node in node_ids(probes).items():
        unit = _UNITS.get(probes[probe].unit, probes[probe].unit)
        found[f"{node}/value"] = Property("Value", "float", unit)
        if probes[probe].name == "electrode_mv":
            found[f"{node}/ph"] = Property("pH by the calibration in force", "float", "pH")
        found[f"{node}/flag"] = Property("How far to trust it", "enum", choices=flags)
        found[f"{node}/doubt"] = Property("Why not to trust it", "string")
    found |= {f"pond/{name}": each for name, each in POND.items()}
    return found | {f"alarms/{name}": each for name, each in ALARMS.items()}


def description(pond_name: str, probes: Mapping[str, Quantity], root: str | None = None) -> str:
    """The $description document of a pond, of its own or below a `root`."""
    names = {node: probe for probe, node in node_ids(probes).items()}
    nodes: dict[str, Any] = {}
    for path, each in properties(probes).items():
        node, name = path.split("/")
        nodes.setdefault(node, {"name": names.get(node, node), "properties": {}})
        nodes[node]["properties"][name] = each.describe()
    above = {} if root is None else {"root": root, "parent": root}
    return _versioned({"homie": "5.0", "name": pond_name, **above, "nodes": nodes})


def root_description(name: str, children: Iterable[str]) -> str:
    """The $description document of a device that has nothing but children, given by their IDs."""
    return _versioned({"homie": "5.0", "name": name, "children": list(children)})


def _versioned(whole: dict[str, Any]) -> str:
    """With its `version`: a checksum, so it changes exactly when the rest does."""
    return json.dumps({**whole, "version": zlib.crc32(json.dumps(whole).encode("ascii"))})


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
