"""The wires that are asked: Modbus RTU and 1-Wire files."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from dawnline_simulator.simulate import Row, Truth
from dawnline_simulator.wires.modbus import Fault, Slave, crc16, registers
from dawnline_simulator.wires.onewire import OneWireFolder, crc8, scratchpad


def asked(*question: int) -> bytes:
    body = struct.pack(">BBHH", *question)
    return body + crc16(body)


def row(water: float) -> Row:
    return Row(0, 7.0, water, "whole", Truth(7.0, water, 1.0, 100.0), "")


@pytest.mark.parametrize(
    ("frame", "check_sum"),
    [("0207", "4112"), ("01030000000a", "c5cd"), ("1103006b0003", "7687"), ("01030402bc00fa", "ba2c")],
)
def test_check_sum_of_the_serial_line_specification(frame: str, check_sum: str) -> None:
    assert crc16(bytes.fromhex(frame)).hex() == check_sum


def test_a_question_is_answered_however_it_is_cut() -> None:
    answer = bytes.fromhex("01030402bc00faba2c")
    for table in (3, 4):
        slave = Slave({1: [700, 250]})
        said = [slave.hear(bytes([byte])) for byte in asked(1, table, 0, 2)]
        assert said[:-1] == [b""] * 7
        assert said[-1][2:-2] == answer[2:-2]
    assert Slave({1: [700, 250]}).hear(b"\x00\xff\x13" + asked(1, 3, 0, 2)) == answer
    assert Slave({1: [700, 250]}).hear(asked(1, 3, 0, 2) * 2) == answer * 2


@pytest.mark.parametrize(
    ("question", "code"), [((1, 3, 1, 2), 2), ((1, 3, 0, 0), 3), ((1, 3, 0, 126), 3), ((1, 6, 0, 1), 1)]
)
def test_what_cannot_be_answered_is_an_exception(question: tuple[int, ...], code: int) -> None:
    reply = Slave({1: [700, 250]}).hear(asked(*question))
    assert reply[:3] == bytes([1, question[1] | 0x80, code])
    assert crc16(reply[:-2]) == reply[-2:]


def test_faults_are_those_of_one_unit() -> None:
    slave = Slave({1: [700], 2: [250]})
    faults: tuple[Fault, ...] = ("silent", "checksum", "exception", "garbage")
    for fault in faults:
        slave.faults[1] = fault
        said = slave.hear(asked(1, 3, 0, 1))
        assert said != Slave({1: [700]}).hear(asked(1, 3, 0, 1))
        assert (crc16(said[:-2]) == said[-2:]) is (fault == "exception")
        assert slave.hear(asked(2, 3, 0, 1))[3:5] == bytes([0, 250])
    assert slave.hear(asked(3, 3, 0, 1)) == b""


def test_registers_hold_both_forms() -> None:
    held = registers(7.12, -0.5)
    assert held[0] == 712
    assert held[1] - 65_536 == -50
    assert struct.unpack(">ff", struct.pack(">4H", *held[2:6])) == pytest.approx((7.12, -0.5))


@pytest.mark.parametrize(("water", "raw"), [(125.0, "d007"), (25.0625, "9101"), (-10.125, "5eff"), (-55.0, "90fc")])
def test_temperature_lies_in_the_bytes_as_the_data_sheet_has_it(water: float, raw: str) -> None:
    # Maxim data sheet of the DS18B20, table "temperature/data relationship".
    nine = scratchpad(water)
    assert nine[:2].hex() == raw
    assert crc8(nine) == 0


def test_a_thermometer_comes_and_goes(tmp_path: Path) -> None:
    wire = OneWireFolder(tmp_path / "devices")
    wire.plug()
    wire.say(row(-0.53))
    lines = (tmp_path / "devices" / "28-0316a2795e7b" / "w1_slave").read_text(encoding="ascii").splitlines()
    assert lines[0].endswith(" YES")
    assert lines[1].endswith(" t=-500")
    wire.babble(b"noise")
    assert " NO\n" in (tmp_path / "devices" / "28-0316a2795e7b" / "w1_slave").read_text(encoding="ascii")
    wire.hush()
    assert (tmp_path / "devices" / "28-0316a2795e7b" / "w1_slave").read_text(encoding="ascii").startswith("ff ff ff")
    wire.unplug()
    wire.unplug()
    assert list((tmp_path / "devices").iterdir()) == []
