"""What goes out by MQTT of the present."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from dawnline.delivery import homie
from dawnline.quantity import QUANTITIES
from dawnline.service.present import _properties

NIGHT = {"probe": "ph", "low": 6.81, "low_p10": 6.7, "low_p90": 6.9}
GOOD = {"quantity": "ph", "value": 7.1, "flag": "good", "doubt": None, "silent": None, "out_until": None}
PROBES = {"ph": GOOD}
DAY = {"probe": "ph", "dawn_low": 6.9, "dusk_high": 7.4, "swing": 0.5}


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


def test_why_a_value_is_not_to_be_trusted_goes_out_beside_it() -> None:
    assert sent()["ph/doubt"] == ""
    doubted = sent(probes={"ph": {**GOOD, "flag": "suspect", "doubt": "frozen: it rests"}})
    assert (doubted["ph/flag"], doubted["ph/doubt"]) == ("suspect", "frozen: it rests")
    out = sent(probes={"ph": {**GOOD, "flag": "not evaluated", "out_until": "2026-06-14T05:30:00+02:00"}})
    assert out["ph/doubt"] == "out of service until 2026-06-14T05:30:00+02:00"
    never = sent(probes={"ph": {**GOOD, "value": None, "silent": "nothing received for 6 min"}})
    assert never["ph/doubt"] == "nothing received for 6 min"


def test_figures_of_a_doubted_probe_say_whose_doubt_it_is() -> None:
    doubted = {"probes": {"ph": {**GOOD, "doubt": "frozen: it rests"}}}
    assert sent(**doubted)["pond/doubt"] == ""
    assert sent(**doubted, today=[DAY])["pond/doubt"] == "ph: frozen: it rests"
    assert sent(**doubted, today=[DAY], tonight=[NIGHT])["pond/doubt"] == "ph: frozen: it rests"
    assert sent(today=[DAY], tonight=[NIGHT])["pond/doubt"] == ""
