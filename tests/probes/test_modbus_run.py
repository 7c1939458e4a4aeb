"""`dawnline run` beside the simulator: a Modbus bus for pH, a 1-Wire folder for temperature, readings in the store."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from dawnline.store.reader import Reader

from ..configuration import POND
from ..household import Household
from ..machine import until

Eventually = Callable[..., None]
CLOCK = "DAWNLINE_CLOCK_RATE"
CONFIGURATION = (
    POND
    + """
[[probes]]
name = "ph"
quantity = "ph"
link = "modbus"
port = "FOLDER/bus"
unit = 1
register = 0
type = "uint16"
scale = 0.01
interval = "200ms"
[[probes]]
name = "dead"
quantity = "electrode_mv"
link = "modbus"
port = "FOLDER/bus"
unit = 2
register = 0
interval = "200ms"
[[probes]]
name = "water"
quantity = "temperature"
link = "onewire"
device = "28-0316a2795e7b"
folder = "devices"
interval = "200ms"
"""
)
SHARED = POND + "".join(
    f"""
[[probes]]
name = "{name}"
quantity = "{quantity}"
link = "modbus"
port = "FOLDER/bus"
unit = {unit}
register = {register}
type = "{kind}"
scale = 0.01
interval = "300ms"
"""
    for name, quantity, unit, register, kind in (
        ("ph", "ph", 1, 0, "uint16"), ("deep", "ph", 2, 0, "uint16"), ("water", "temperature", 5, 1, "int16"),
    )
)  # fmt: skip


class Simulated(Household):
    """The service and both simulators, each its own process on one scaled clock."""

    def simulate(self, name: str, *wire: str, rate: str = "20") -> subprocess.Popen[bytes]:
        begin = ["--scenario", "quiet-week", "--seed", "1", "--rate", rate, "--interval", "2s"]
        process = self.begin(name, [sys.executable, "-m", "dawnline_simulator", "run", *begin, *wire])
        if CLOCK not in self.environment:
            said = self.kept / f"{name}.out"
            match = until(lambda: re.fullmatch(rf"{CLOCK}=(.+)\n", said.read_text(encoding="utf-8")), "its clock")
            assert match is not None
            self.environment[CLOCK] = match[1]
        return process

    def links(self) -> dict[str, Any]:
        return {link["name"].partition(":")[0]: link for link in self.status().get("links", [])}

    def readings(self, probe: str) -> list[float]:
        with Reader.open(self.folder / "pond.db") as reader:
            return [reading.value for reading in reader.readings(probe, 0, 1 << 60)]


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Callable[[str], Simulated]]:
    """`make(configuration)` gives a household, which is ended after the test."""
    made: list[Simulated] = []

    def household(configuration: str) -> Simulated:
        made.append(Simulated(tmp_path, configuration.replace("FOLDER", str(tmp_path))))
        return made[-1]

    yield household
    for each in made:
        each.end(signal.SIGKILL)


def test_a_bus_and_a_thermometer_arrive_in_the_store(make: Callable[[str], Simulated], eventually: Eventually) -> None:
    household = make(CONFIGURATION)
    household.simulate("bus", "--modbus", str(household.folder / "bus"))
    household.simulate("thermometer", "--onewire", str(household.folder / "devices"))
    household.start()

    def well() -> bool:
        links = household.links()
        return all(links.get(kind, {"good": 0})["good"] >= 5 for kind in ("modbus", "onewire"))

    eventually(well, "five values of each")
    links = household.links()
    assert links["modbus"]["state"] == links["onewire"]["state"] == "connected"
    assert set(links["modbus"]["bad"]) == {"no answer"}
    assert links["modbus"]["last_refused"]["no answer"] == "unit 2, holding register 0"
    assert household.stop("bus") == 0
    assert household.stop("thermometer") == 0
    eventually(lambda: household.links()["modbus"]["state"] == "waiting", "the unplugged bus noticed")
    assert household.stop() == 0
    ph, water = household.readings("ph"), household.readings("water")
    assert len(ph) >= 5
    assert len(water) >= 5
    # The quiet week begins at midnight, in June.
    assert all(6.5 < value < 8.5 and round(value * 100) == pytest.approx(value * 100) for value in ph)
    assert all(12.0 < value < 22.0 and value * 16 == pytest.approx(round(value * 16), abs=0.02) for value in water)
    assert household.readings("dead") == []
    assert "Traceback" not in household.log


def readings_of_two_and_one(household: Simulated) -> dict[str, list[float]]:
    return {name: household.readings(name) for name in ("ph", "deep", "water")}


def test_two_ph_probes_and_a_thermometer_share_one_bus(
    make: Callable[[str], Simulated], eventually: Eventually
) -> None:
    household = make(SHARED)
    household.simulate("bus", "--modbus", str(household.folder / "bus"), "--units", "1,2:+0.25,5")
    household.start()
    eventually(lambda: household.links().get("modbus", {"good": 0})["good"] >= 15, "five rounds")
    link, probes = household.links()["modbus"], household.status()["probes"]
    assert (link["bad"], link["silent_probes"]) == ({}, [])
    assert {probe["flag"] for probe in probes.values()} == {"good"}
    assert household.stop() == 0
    found = readings_of_two_and_one(household)
    assert min(map(len, found.values())) >= 5
    assert max(map(len, found.values())) - min(map(len, found.values())) <= 1  # each in its turn
    apart = [deep - ph for ph, deep in zip(found["ph"], found["deep"], strict=False)]
    assert all(0.1 < each < 0.4 for each in apart)  # nobody has the other's answer, but for what moved between the two
    assert all(12.0 < value < 22.0 for value in found["water"])


@pytest.mark.parametrize(
    ("fault", "refusal"),
    [("silent", "no answer"), ("checksum", "check sum wrong"), ("garbage", "no answer among what came")],
)
def test_a_unit_that_fails_costs_its_own_probe_and_the_others_go_on(
    make: Callable[[str], Simulated], eventually: Eventually, fault: str, refusal: str
) -> None:
    household = make(SHARED)
    units = f"1,2:+0.25={fault},5"
    household.simulate("bus", "--modbus", str(household.folder / "bus"), "--units", units, rate="120")
    household.start()

    def silent() -> dict[str, str]:
        rows = household.status().get("alarms", [])
        return {row["probe"]: row["state"] for row in rows if row["alarm"] == "no-data"}

    eventually(lambda: silent() == {"deep": "unacknowledged"}, "the alarm of the one that fails")
    link = household.links()["modbus"]
    assert set(link["bad"]) == {refusal}
    assert link["last_refused"][refusal].startswith("unit 2, holding register 0")
    good = link["good"]
    eventually(lambda: household.links()["modbus"]["good"] >= good + 10, "the others read on")
    assert set(silent()) == {"deep"}
    probes = household.status()["probes"]
    assert (probes["ph"]["flag"], probes["water"]["flag"], probes["deep"]["value"]) == ("good", "good", None)
    assert household.stop() == 0
    found = readings_of_two_and_one(household)
    assert found["deep"] == []
    assert abs(len(found["ph"]) - len(found["water"])) <= 1  # asked in turn, and neither lost an answer
