"""The Modbus link on a pseudo-terminal, with the simulator's slave at the far end."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from dawnline.probes.dialects.registers import RegisterForm
from dawnline.probes.intake import Arrival, Intake
from dawnline.probes.links.modbus import ModbusLink, RegisterRead
from dawnline.probes.links.modbus_bus import Line
from dawnline_simulator.wires.modbus import ModbusWire, Slave, registers
from dawnline_simulator.wires.pty import Port

Eventually = Callable[..., None]
HUNDREDTHS = RegisterForm(scale=0.01)


def read(probe: str, unit: int = 1, register: int = 0, form: RegisterForm = HUNDREDTHS, **more: Any) -> RegisterRead:
    return RegisterRead(probe, unit, more.get("table", "holding"), register, form, more.get("interval_s", 0.05))


@pytest.fixture
def wire(tmp_path: Path) -> Iterator[ModbusWire]:
    made = ModbusWire(Port(tmp_path / "bus"), Slave({1: registers(7.12, 18.4), 2: registers(6.5, -0.5)}))
    made.plug()
    yield made
    made.unplug()


@pytest.fixture
def open_link(tmp_path: Path, intake: Intake, eventually: Eventually) -> Iterator[Callable[..., ModbusLink]]:
    started: list[ModbusLink] = []

    def start(*reads: RegisterRead, into: Intake = intake) -> ModbusLink:
        link = ModbusLink(Line(str(tmp_path / "bus")), reads, into)
        started.append(link)
        link.start()
        eventually(lambda: link.report().state == "connected", "the link connected")
        return link

    yield start
    for link in started:
        link.stop()


def values(drain: Any, intake: Intake) -> dict[str, set[float]]:
    found: dict[str, set[float]] = {}
    for batch in drain(intake):
        for sample in batch.samples:
            found.setdefault(sample.probe, set()).add(sample.value)
    return found


def test_each_probe_on_the_bus_gets_its_value(
    wire: ModbusWire, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link(
        read("ph"),
        read("water", register=1, table="input"),
        read("fine", register=2, form=RegisterForm("float32")),
        read("frost", unit=2, register=1),
    )
    eventually(lambda: link.report().good >= 8, "two rounds")
    assert values(drain, intake) == {"ph": {7.12}, "water": {18.4}, "fine": {7.11999988556}, "frost": {-0.5}}
    assert link.report().bad == {}
    assert link.report().silent_s is not None


@pytest.mark.parametrize(
    ("fault", "refusal", "text"),
    [
        ("checksum", "check sum wrong", "unit 1, holding register 0: 01 03 02"),
        ("exception", "exception reply 4, device failure", "unit 1, holding register 0: code 4"),
        ("garbage", "no answer among what came", "unit 1, holding register 0: 00 ff 13"),
        ("silent", "no answer", "unit 1, holding register 0"),
    ],
)
def test_a_bad_answer_is_counted_by_its_class_and_the_next_one_read(
    wire: ModbusWire, intake: Intake, open_link: Any, eventually: Eventually, fault: Any, refusal: str, text: str
) -> None:
    wire.slave.faults[1] = fault
    link = open_link(read("ph"))
    eventually(lambda: link.report().bad.get(refusal, 0) >= 1, refusal)
    assert len(intake) == 0
    assert link.report().last_refused[refusal].startswith(text)
    assert link.report().state == "connected"
    wire.slave.faults.clear()
    eventually(lambda: link.report().good >= 1, "a value after the fault")
    assert link.report().silent_probes == ()


def test_a_bus_of_other_parity_and_stop_bits_is_opened_as_well(
    wire: ModbusWire, tmp_path: Path, intake: Intake, eventually: Eventually
) -> None:
    link = ModbusLink(Line(str(tmp_path / "bus"), 19200, "even", 2), [read("ph")], intake)
    link.start()
    eventually(lambda: link.report().good >= 1)
    link.stop()


def test_registers_that_are_not_there_are_an_exception(
    wire: ModbusWire, open_link: Any, eventually: Eventually
) -> None:
    link = open_link(read("ph", register=40))
    eventually(lambda: link.report().bad == {"exception reply 2, illegal data address": 1})


def test_a_dead_unit_is_asked_ever_more_rarely_and_starves_nobody(
    wire: ModbusWire, open_link: Any, eventually: Eventually
) -> None:
    link = open_link(read("ph"), read("dead", unit=99), read("dead-too", unit=99, register=1))
    eventually(lambda: link.report().bad.get("no answer", 0) >= 3, "three silences")
    # After three silences of a second each the pauses between them are 0.05, 0.1, 0.2 s: the other unit speaks in each.
    assert link.report().good >= 3
    assert set(link.report().bad) == {"no answer"}
    assert link.report().silent_probes  # those of the dead unit that were asked so far
    assert "ph" not in link.report().silent_probes


def test_unplugged_and_plugged_in_again_it_reads_on(
    wire: ModbusWire, intake: Intake, open_link: Any, drain: Any, eventually: Eventually
) -> None:
    link = open_link(read("ph"))
    eventually(lambda: link.report().good >= 1)
    wire.unplug()
    eventually(lambda: link.report().state == "waiting", "the loss noticed")
    assert link.report().last_error
    drain(intake)
    wire.slave.units[1] = registers(6.9, 10.0)
    wire.plug()
    eventually(lambda: link.report().state == "connected", "connected again")
    eventually(lambda: len(intake) >= 1, "a value")
    assert values(drain, intake) == {"ph": {6.9}}
    assert link.report().reconnects == 1


def test_a_bus_that_is_not_there_yet_is_waited_for(tmp_path: Path, intake: Intake, eventually: Eventually) -> None:
    link = ModbusLink(Line(str(tmp_path / "bus")), [read("ph")], intake)
    link.start()
    wire = ModbusWire(Port(tmp_path / "bus"), Slave({1: registers(7.0, 18.0)}))
    try:
        eventually(lambda: link.report().last_error is not None, "a reason given")
        assert "No such file" in str(link.report().last_error)
        assert "Errno" not in str(link.report().last_error)
        wire.plug()
        eventually(lambda: link.report().good >= 1, "a value")
        assert link.report().reconnects == 0
    finally:
        link.stop()
        wire.unplug()


def test_what_came_late_is_not_taken_for_the_next_answer(cable: Any, intake: Intake, eventually: Eventually) -> None:
    link = ModbusLink(
        Line(str(cable.path)), [read("ph", interval_s=0.5), read("water", register=1, interval_s=0.5)], intake
    )
    link.start()
    try:
        eventually(lambda: link.report().bad.get("no answer", 0) == 1, "silence")
        cable.send(bytes.fromhex("01030202c8b8b2"))  # the answer after all, before the next question
        eventually(lambda: link.report().bad.get("no answer", 0) == 2, "silence again")
        assert len(intake) == 0
    finally:
        link.stop()


@pytest.mark.parametrize("state", ["idle", "asking", "not there"])
def test_stop_ends_it_soon_in_any_state(
    wire: ModbusWire, tmp_path: Path, intake: Intake, eventually: Eventually, state: str
) -> None:
    unit = 99 if state == "asking" else 1
    path = tmp_path / ("nowhere" if state == "not there" else "bus")
    link = ModbusLink(Line(str(path)), [read("ph", unit=unit, interval_s=600.0)], intake)
    link.start()
    if state == "idle":
        eventually(lambda: link.report().good == 1)
    else:
        eventually(lambda: link.report().state != "new")
    link.stop()
    assert link.report().state == "stopped"
    assert not any(t.name == link.name for t in threading.enumerate())


def test_a_full_queue_holds_it_back_and_stop_still_ends_it(
    wire: ModbusWire, open_link: Any, eventually: Eventually
) -> None:
    small = Intake(lambda: 5, capacity=1)
    small.put(Arrival("other", (("ph", 7.0, None),)))
    link = open_link(read("ph"), into=small)
    eventually(lambda: link.report().good == 1)
    link.stop()
    assert link.report().dropped == 1
    assert not any(t.name == link.name for t in threading.enumerate())


def test_a_bug_costs_one_answer_and_not_the_bus(
    wire: ModbusWire, open_link: Any, eventually: Eventually, monkeypatch: pytest.MonkeyPatch
) -> None:
    crashed = threading.Event()
    real = ModbusLink.ask

    def crash_once(link: ModbusLink, what: RegisterRead) -> Any:
        if not crashed.is_set():
            crashed.set()
            raise RuntimeError("a bug")
        return real(link, what)

    monkeypatch.setattr(ModbusLink, "ask", crash_once)
    link = open_link(read("ph"))
    eventually(lambda: link.report().good >= 1)
    assert link.report().bad == {"fault of ours": 1}


def test_a_babbling_bus_ends_a_question_all_the_same(cable: Any, intake: Intake, eventually: Eventually) -> None:
    link = ModbusLink(Line(str(cable.path)), [read("ph")], intake)
    link.start()
    try:
        until = time.monotonic() + 10.0
        while not link.report().bad and time.monotonic() < until:
            cable.send(b"\x55" * 64)
            time.sleep(0.005)
        assert link.report().bad["no answer among what came"] >= 1
        assert len(intake) == 0
    finally:
        link.stop()
