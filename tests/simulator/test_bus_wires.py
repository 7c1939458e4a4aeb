"""The wires that are asked: Modbus RTU and 1-Wire files."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from dawnline_simulator.simulate import Row, Truth
from dawnline_simulator.wires.modbus import Fault, ModbusWire, Slave, crc16, parse_units, registers
from dawnline_simulator.wires.onewire import OneWireFolder, crc8, scratchpad
from dawnline_simulator.wires.pty import Port


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


def test_who_is_not_asked_says_nothing_and_units_hold_their_own() -> None:
    slave = Slave({1: [700, 250], 2: [730, 250], 5: [0, 250]})
    said = slave.hear(asked(1, 3, 0, 1) + asked(0, 3, 0, 1) + asked(2, 4, 0, 2) + asked(9, 3, 0, 1) + asked(5, 3, 1, 1))
    answers = [(1, 3, [700]), (2, 4, [730, 250]), (5, 3, [250])]
    whole = b""
    for unit, function, held in answers:
        body = struct.pack(f">BBB{len(held)}H", unit, function, 2 * len(held), *held)
        whole += body + crc16(body)
    assert said == whole  # nobody for the others, nor for all (address 0)


def test_what_the_story_does_to_its_line_befalls_the_first_unit_alone(tmp_path: Path) -> None:
    wire = ModbusWire(Port(tmp_path / "bus"), units=parse_units("3,4:-0.25,7=checksum"))

    def heard(unit: int) -> bytes:
        return wire.slave.hear(asked(unit, 3, 0, 2))

    def holds(ph: float, water: float) -> bytes:
        return struct.pack(">HH", round(ph * 100), round(water * 100))

    wire.say(row(15.0))
    assert (heard(3)[3:7], heard(4)[3:7]) == (holds(7.0, 15.0), holds(6.75, 15.0))
    broken = heard(7)
    assert (broken[3:7], crc16(broken[:-2]) == broken[-2:]) == (holds(7.0, 15.0), False)
    wire.hush(row(16.0))
    assert (heard(3), heard(4)[3:7]) == (b"", holds(6.75, 16.0))
    wire.babble(b"noise", row(17.0))
    assert (heard(3), heard(4)[3:7]) == (b"noise", holds(6.75, 17.0))
    wire.say(row(18.0))
    assert heard(3)[3:7] == holds(7.0, 18.0)


@pytest.mark.parametrize("text", ["", "0", "248", "1,1", "1:", "1=loud", "1:+9", "one", "1;2", "1:+0.3=", "\u0661"])
def test_units_that_are_none_are_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match=r"expected|one address"):
        parse_units(text)


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
    wire.babble(b"noise", row(-0.53))
    assert " NO\n" in (tmp_path / "devices" / "28-0316a2795e7b" / "w1_slave").read_text(encoding="ascii")
    wire.hush(row(-0.53))
    assert (tmp_path / "devices" / "28-0316a2795e7b" / "w1_slave").read_text(encoding="ascii").startswith("ff ff ff")
    wire.unplug()
    wire.unplug()
    assert list((tmp_path / "devices").iterdir()) == []
