"""What goes out by MQTT of the present."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from dawnline.delivery import homie
from dawnline.quantity import QUANTITIES
from dawnline.service.present import _properties

NIGHT = {"probe": "ph", "low": 6.81, "low_p10": 6.7, "low_p90": 6.9}
PROBES = {"ph": {"quantity": "ph", "value": 7.1, "flag": "good"}}


def sent(**more: Any) -> dict[str, str]:
    data = {"probes": PROBES, "today": [], "tonight": [], "buffer": {}, "alarms": [], **more}
    state: Any = SimpleNamespace(nodes={"ph": "ph"})
    values = _properties(data, [], state)
    allowed = homie.properties({"ph": QUANTITIES["ph"]})
    assert all(allowed[path].takes(value) for path, value in values.items())
    return values


def test_the_night_and_the_buffer_go_out() -> None:
    values = sent(tonight=[NIGHT], buffer={"trend": "falling", "reaches_low_on": "2026-06-14"})
    assert (values["pond/tonight-low"], values["pond/tonight-low-p10"]) == ("6.81", "6.70")
    assert (values["pond/buffer-trend"], values["pond/reaches-low-on"]) == ("falling", "2026-06-14")


def test_what_is_not_known_is_taken_away() -> None:
    for buffer in ({}, {"trend": "unclear", "reaches_low_on": None}):
        values = sent(buffer=buffer)
        assert (values["pond/tonight-low"], values["pond/reaches-low-on"]) == ("", "")
