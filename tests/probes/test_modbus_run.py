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


class Simulated(Household):
    """The service and both simulators, each its own process on one scaled clock."""

    def simulate(self, name: str, *wire: str) -> subprocess.Popen[bytes]:
        begin = ["--scenario", "quiet-week", "--seed", "1", "--rate", "20", "--interval", "2s"]
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
def household(tmp_path: Path) -> Iterator[Simulated]:
    made = Simulated(tmp_path, CONFIGURATION.replace("FOLDER", str(tmp_path)))
    yield made
    made.end(signal.SIGKILL)


def test_a_bus_and_a_thermometer_arrive_in_the_store(household: Simulated, eventually: Eventually) -> None:
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
