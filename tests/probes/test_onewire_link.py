"""The 1-Wire link on a folder such as the kernel shows."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from dawnline.probes.intake import Intake
from dawnline.probes.links import onewire
from dawnline.probes.links.onewire import DeviceRead, OneWireLink
from dawnline_simulator.simulate import Row, Truth
from dawnline_simulator.wires.onewire import OneWireFolder

from ..machine import WAIT_S

Eventually = Callable[..., None]
SECOND = "28-00000a2b3c4d"


def row(water: float) -> Row:
    return Row(0, 7.0, water, "whole", Truth(7.0, water, 1.0, 100.0), "")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "devices"


@pytest.fixture
def water(folder: Path) -> OneWireFolder:
    made = OneWireFolder(folder)
    made.plug()
    made.say(row(18.4))
    return made


@pytest.fixture
def open_link(folder: Path, intake: Intake) -> Iterator[Callable[..., OneWireLink]]:
    started: list[OneWireLink] = []

    def start(**probes: str) -> OneWireLink:
        reads = [DeviceRead(probe, folder / device / "w1_slave", 0.05) for probe, device in probes.items()]
        started.append(OneWireLink(folder, reads, intake))
        started[-1].start()
        return started[-1]

    yield start
    for link in started:
        link.stop()


def test_each_device_gives_its_temperature(
    folder: Path, water: OneWireFolder, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    other = OneWireFolder(folder, SECOND)
    other.plug()
    other.say(row(-0.5))
    link = open_link(water="28-0316a2795e7b", air=SECOND)
    eventually(lambda: link.report().good >= 4, "two rounds")
    found = {(s.probe, s.value) for batch in drain(intake) for s in batch.samples}
    assert found == {("water", 18.375), ("air", -0.5)}
    assert link.report().state == "connected"
    assert link.report().bad == {}


@pytest.mark.parametrize(
    ("spoil", "refusal"),
    [
        (lambda w: w.babble(b"\x13\x07noise!", row(12.0)), "check sum wrong"),
        (lambda w: w.hush(row(12.0)), "check sum wrong"),
        (lambda w: w.say(row(85.0)), "power-on value 85, nothing measured yet"),
        (lambda w: w.say(row(127.6875)), "failed measurement: short of power, or an open circuit"),
        (lambda w: w.show(""), "empty"),
    ],
    ids=["noise", "all ones", "power-on", "open circuit", "empty"],
)
def test_a_bad_file_is_counted_by_its_class_and_the_next_one_read(
    water: OneWireFolder, intake: Intake, open_link: Any, eventually: Eventually, spoil: Any, refusal: str
) -> None:
    spoil(water)
    link = open_link(water="28-0316a2795e7b")
    eventually(lambda: link.report().bad.get(refusal, 0) >= 2, refusal)
    assert len(intake) == 0
    assert link.report().last_refused[refusal].startswith("28-0316a2795e7b: ")
    water.say(row(12.0))
    eventually(lambda: link.report().good >= 1, "a value")


def test_a_device_that_goes_and_comes_back(
    folder: Path, water: OneWireFolder, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link(water="28-0316a2795e7b")
    eventually(lambda: link.report().good >= 1)
    water.unplug()
    folder.rmdir()
    eventually(lambda: link.report().state == "waiting", "the loss noticed")
    assert "No such file" in str(link.report().last_error)
    assert link.report().last_refused["device not there"] == "28-0316a2795e7b: No such file or directory"
    drain(intake)
    water.plug()
    water.say(row(12.0))
    eventually(lambda: len(intake) >= 1, "a value")
    assert {s.value for batch in drain(intake) for s in batch.samples} == {12.0}
    assert link.report().state == "connected"
    assert link.report().reconnects == 1


def test_one_device_that_is_missing_leaves_the_others_alone(
    water: OneWireFolder, open_link: Any, eventually: Eventually
) -> None:
    link = open_link(water="28-0316a2795e7b", lost=SECOND)
    eventually(lambda: link.report().good >= 5)
    assert link.report().state == "connected"
    assert link.report().bad["device not there"] < link.report().good
    assert link.report().reconnects == 0
    assert link.report().silent_probes == ("lost",)


def test_a_read_that_hangs_is_seen_and_does_not_hold_up_the_stop(
    folder: Path, open_link: Any, eventually: Eventually, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(onewire, "HANGS_S", 0.1)
    (folder / SECOND).mkdir(parents=True)
    pipe = folder / SECOND / "w1_slave"
    os.mkfifo(pipe)  # to open it for reading waits for a writer
    link = open_link(water=SECOND)
    eventually(lambda: link.report().state == "waiting", "the hang seen")
    assert "hangs" in str(link.report().last_error)
    stopper = threading.Thread(target=link.stop)
    stopper.start()
    stopper.join(WAIT_S)
    assert not stopper.is_alive()
    assert link.report().state == "stopped"
    assert any(t.name == link.name for t in threading.enumerate())  # its thread hangs on: nobody waited for it
    os.close(os.open(pipe, os.O_WRONLY))  # let the thread go
    eventually(lambda: not any(t.name == link.name for t in threading.enumerate()), "the thread ended")
