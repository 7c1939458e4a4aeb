"""`dawnline run` beside the simulator: a Modbus bus for pH, a 1-Wire folder for temperature, readings in the store."""

from __future__ import annotations

import json
import os
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


class Household:
    """The service and both simulators, each its own process on one scaled clock."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.config = folder, folder / "dawnline.toml"
        self.config.write_text(CONFIGURATION.replace("FOLDER", str(folder)), encoding="utf-8")
        (folder / "runtime").mkdir()
        self.environment = {**os.environ, "RUNTIME_DIRECTORY": str(folder / "runtime")}
        self.processes: list[subprocess.Popen[str]] = []

    def start(self, *words: str) -> subprocess.Popen[str]:
        with (self.folder / "log").open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", *words], env=self.environment, stdout=subprocess.PIPE, stderr=log, text=True
            )
        self.processes.append(process)
        return process

    def simulate(self, *wire: str) -> subprocess.Popen[str]:
        begin = ["--scenario", "quiet-week", "--seed", "1", "--rate", "20", "--interval", "2s"]
        process = self.start("dawnline_simulator", "run", *begin, *wire)
        if CLOCK not in self.environment:
            assert process.stdout is not None
            match = re.fullmatch(rf"{CLOCK}=(.+)\n", process.stdout.readline())
            assert match is not None
            self.environment[CLOCK] = match[1]
        return process

    def links(self) -> dict[str, Any]:
        line = [sys.executable, "-m", "dawnline.cli", "--config", str(self.config), "status", "--json"]
        out = subprocess.run(line, env=self.environment, capture_output=True, text=True, timeout=30, check=False).stdout
        return {link["name"].partition(":")[0]: link for link in (json.loads(out) if out else {}).get("links", [])}

    def readings(self, probe: str) -> list[float]:
        with Reader.open(self.folder / "pond.db") as reader:
            return [reading.value for reading in reader.readings(probe, 0, 1 << 60)]


def ended(process: subprocess.Popen[str], sig: int = signal.SIGTERM) -> int:
    process.send_signal(sig)
    status = process.wait(timeout=10)
    if process.stdout is not None:
        process.stdout.close()
    return status


@pytest.fixture
def household(tmp_path: Path) -> Iterator[Household]:
    made = Household(tmp_path)
    yield made
    for process in made.processes:
        if process.poll() is None:
            ended(process, signal.SIGKILL)


def test_a_bus_and_a_thermometer_arrive_in_the_store(household: Household, eventually: Eventually) -> None:
    bus = household.simulate("--modbus", str(household.folder / "bus"))
    thermometer = household.simulate("--onewire", str(household.folder / "devices"))
    service = household.start("dawnline.cli", "--config", str(household.config), "run")

    def well() -> bool:
        links = household.links()
        return all(links.get(kind, {"good": 0})["good"] >= 5 for kind in ("modbus", "onewire"))

    eventually(well, "five values of each", timeout_s=30.0)
    links = household.links()
    assert links["modbus"]["state"] == links["onewire"]["state"] == "connected"
    assert set(links["modbus"]["bad"]) == {"no answer"}
    assert links["modbus"]["last_refused"]["no answer"] == "unit 2, holding register 0"
    assert ended(bus) == 0
    assert ended(thermometer) == 0
    eventually(lambda: household.links()["modbus"]["state"] == "waiting", "the unplugged bus noticed", timeout_s=30.0)
    assert ended(service) == 0
    ph, water = household.readings("ph"), household.readings("water")
    assert len(ph) >= 5
    assert len(water) >= 5
    # The quiet week begins at midnight, in June.
    assert all(6.5 < value < 8.5 and round(value * 100) == pytest.approx(value * 100) for value in ph)
    assert all(12.0 < value < 22.0 and value * 16 == pytest.approx(round(value * 16), abs=0.02) for value in water)
    assert household.readings("dead") == []
    assert "Traceback" not in (household.folder / "log").read_text(encoding="utf-8")
