"""From settings to links that ask, and which libraries that loads."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from dawnline.probes.dialects.registers import RegisterForm
from dawnline.probes.intake import Intake
from dawnline.probes.links.modbus import ModbusLink, RegisterRead
from dawnline.probes.links.onewire import OneWireLink
from dawnline.probes.links.wiring import build_links
from dawnline.probes.settings import ProbeSettings


def probe(name: str, link: str, **more: Any) -> ProbeSettings:
    quantity = "temperature" if link == "onewire" else "ph"
    written = {"name": name, "quantity": quantity, "link": link, **more}
    return ProbeSettings.model_validate(written, context={"folder": Path("/etc/pond")})


def test_probes_on_one_bus_share_a_link_and_so_do_those_of_one_folder() -> None:
    links = build_links(
        [
            probe("ph", "modbus", port="/dev/a", unit=1, register=0, scale=0.01, missing=[0xFFFF], type="uint16"),
            probe("deep", "modbus", port="/dev/a", unit=2, register=0, interval="30s", table="input"),
            probe("other", "modbus", port="/dev/b", unit=1, register=0),
            probe("water", "onewire", device="28-0316a2795e7b"),
            probe("air", "onewire", device="10-000802bcf635"),
            probe("test", "onewire", device="28-0316a2795e7b", folder="devices"),
            probe("lines", "serial", port="/dev/c"),
        ],
        None,
        Intake(lambda: 0),
    )
    assert [link.name for link in links] == [
        "modbus:/dev/a",
        "modbus:/dev/b",
        "onewire:/sys/bus/w1/devices",
        "onewire:/etc/pond/devices",
        "serial:/dev/c",
    ]
    assert {link.report().state for link in links} == {"new"}
    assert {link.window for link in links} == {None}
    bus, thermometers = links[0], links[2]
    assert isinstance(bus, ModbusLink)
    assert isinstance(thermometers, OneWireLink)
    assert [turn.what for turn in bus._timetable._turns] == [
        RegisterRead("ph", 1, "holding", 0, RegisterForm("uint16", scale=0.01, missing=(0xFFFF,)), 10.0),
        RegisterRead("deep", 2, "input", 0, RegisterForm(), 30.0),
    ]
    paths = [str(turn.what.path) for turn in thermometers._timetable._turns]
    assert paths == [f"/sys/bus/w1/devices/{d}/w1_slave" for d in ("28-0316a2795e7b", "10-000802bcf635")]


def test_settings_written_out_in_full_are_read_again() -> None:
    for made in (
        probe("a", "modbus", port="/dev/a", unit=1, register=0),
        probe("b", "onewire", device="28-0316a2795e7b"),
        probe("c", "mqtt", topic="pond/ph"),
    ):
        assert ProbeSettings.model_validate(made.model_dump()) == made


def test_where_a_probe_is_read_is_said_in_words() -> None:
    assert probe("a", "modbus", port="/dev/a", unit=7, register=2).where == "/dev/a, unit 7, holding register 2"
    assert probe("b", "onewire", device="28-0316a2795e7b").where == "28-0316a2795e7b"
    assert probe("c", "serial", port="/dev/a").where == "/dev/a"
    assert probe("d", "mqtt", topic="pond/ph").where == "pond/ph"


def test_a_device_number_in_capitals_is_not_one() -> None:
    with pytest.raises(ValidationError, match="of 0-9 and a-f"):
        probe("b", "onewire", device="28-0316A2795E7B")


@pytest.mark.parametrize(
    ("keys", "loaded"),
    [
        ({"link": "onewire", "device": "28-0316a2795e7b"}, []),
        ({"link": "serial", "port": "/dev/a"}, ["serial"]),
        ({"link": "modbus", "port": "/dev/a", "unit": 1, "register": 0}, ["serial", "pymodbus"]),
    ],
)
def test_libraries_are_loaded_only_for_links_that_are_there(keys: dict[str, Any], loaded: list[str]) -> None:
    code = (
        "import sys\nfrom dawnline.probes.links.wiring import build_links\n"
        "from dawnline.probes.intake import Intake\nfrom dawnline.probes.settings import ProbeSettings\n"
        f"one = ProbeSettings(name='a', quantity='temperature', **{keys!r})\n"
        "build_links([one], None, Intake(lambda: 0))\n"
        "print([m for m in ('serial', 'pymodbus', 'pymodbus.client', 'paho') if m in sys.modules])"
    )
    answer = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert answer.stdout.strip() == repr(loaded)
