"""Probes on an RS-485 bus: the slaves of a Modbus RTU line on a pseudo-terminal, as the protocol's description has it.

Modbus Application Protocol Specification V1.1b3 (functions 3 and 4, exception replies) and Modbus over Serial
Line V1.02 (frame, check sum; addresses 1 to 247, of which the one that is asked answers, and nobody else). Each
unit holds, as holding and as input registers alike, counted from 0:

    0      pH * 100, unsigned
    1      degC * 100, signed
    2, 3   pH as a 32-bit float, higher half first
    4, 5   degC as a 32-bit float, higher half first
    6      what a rain gauge shows, in tips of 0.2 mm, unsigned, back to 0 after 65535
"""

from __future__ import annotations

import re
import struct
import threading
import time
from collections.abc import Mapping, Sequence
from typing import Final, Literal, NamedTuple, TypeAlias, get_args

from dawnline_simulator.gauge import TIP_MM
from dawnline_simulator.simulate import Row
from dawnline_simulator.wires.pty import Port

Fault: TypeAlias = Literal["whole", "silent", "checksum", "exception", "garbage"]

FAULTS: Final[tuple[Fault, ...]] = get_args(Fault)
LAST_UNIT: Final = 247  # Modbus over Serial Line V1.02, section 2.2
_UNIT: Final = re.compile(r"(?P<number>[0-9]{1,3})(:(?P<more>[+-]?[0-2](\.[0-9]+)?))?(=(?P<fault>[a-z]+))?", re.ASCII)

QUESTION_BYTES = 8
LOOK_S = 0.02  # machine time
ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE, DEVICE_FAILURE = 1, 2, 3, 4


def crc16(data: bytes) -> bytes:
    """The check sum as it follows the frame, lower byte first (Modbus over Serial Line V1.02, section 6.2.2).

    >>> crc16(bytes.fromhex("02 07")).hex(" ")
    '41 12'
    """
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xA001 if crc & 1 else 0)
    return crc.to_bytes(2, "little")


def registers(ph: float, water_c: float, rain_mm: float = 0.0) -> list[int]:
    """The seven registers of a unit.

    >>> registers(7.12, -0.5, 1.4)
    [712, 65486, 16611, 55050, 48896, 0, 7]
    """
    numbers = round(ph * 100), round(water_c * 100), ph, water_c, round(rain_mm / TIP_MM) % 65_536
    return list(struct.unpack(">7H", struct.pack(">HhffH", *numbers)))


class Slave:
    """Answers questions for the units in `units`; a unit that is not there says nothing. `faults` go by unit."""

    def __init__(self, units: Mapping[int, list[int]] | None = None) -> None:
        self.units = dict(units or {})
        self.faults: dict[int, Fault] = {}
        self.noise = b"\x00\xff\x13\x07noise"
        self._heard = b""

    def hear(self, data: bytes) -> bytes:
        """Bytes from the bus, however they are cut; what goes back. What is no question is skipped byte by byte."""
        self._heard += data
        said = b""
        while len(self._heard) >= QUESTION_BYTES:
            frame = self._heard[:QUESTION_BYTES]
            if crc16(frame[:-2]) == frame[-2:]:
                said += self.answer(frame)
                self._heard = self._heard[QUESTION_BYTES:]
            else:
                self._heard = self._heard[1:]
        return said

    def answer(self, frame: bytes) -> bytes:
        """The reply to one question whose check sum is right."""
        unit, function, first, count = struct.unpack(">BBHH", frame[:-2])
        fault = self.faults.get(unit, "whole")
        if unit not in self.units or fault == "silent":
            return b""
        if fault == "garbage":
            return self.noise
        held = self.units[unit]
        if fault == "exception":
            reply = bytes([unit, function | 0x80, DEVICE_FAILURE])
        elif function not in (3, 4):
            reply = bytes([unit, function | 0x80, ILLEGAL_FUNCTION])
        elif not 1 <= count <= 125:
            reply = bytes([unit, function | 0x80, ILLEGAL_VALUE])
        elif first + count > len(held):
            reply = bytes([unit, function | 0x80, ILLEGAL_ADDRESS])
        else:
            reply = struct.pack(f">BBB{count}H", unit, function, 2 * count, *held[first : first + count])
        sum_ = crc16(reply)
        return reply + (bytes([sum_[0] ^ 0xFF, sum_[1]]) if fault == "checksum" else sum_)


class Unit(NamedTuple):
    """One probe on the bus: its address, how much more pH it shows than the story's probe, and how it fails."""

    number: int = 1
    more_ph: float = 0.0
    fault: Fault = "whole"


def parse_units(text: str) -> tuple[Unit, ...]:
    """The units that a text names, separated by commas. Raises ValueError for one that is none.

    >>> parse_units("1,2:+0.3,5=silent")[1:]
    (Unit(number=2, more_ph=0.3, fault='whole'), Unit(number=5, more_ph=0.0, fault='silent'))
    """
    units = []
    for part in text.split(","):
        found = _UNIT.fullmatch(part.strip())
        if found is None or not 1 <= int(found["number"]) <= LAST_UNIT:
            raise ValueError(f"found {part!r}, expected units of 1 to {LAST_UNIT} such as 1,2:+0.3,5=silent")
        fault = next((each for each in FAULTS if each == (found["fault"] or "whole")), None)
        if fault is None:
            raise ValueError(f"found {found['fault']!r}, expected one of {', '.join(FAULTS)}")
        units.append(Unit(int(found["number"]), float(found["more"] or 0.0), fault))
    if len({unit.number for unit in units}) < len(units):
        raise ValueError(f"found {text!r}, where two units have one address")
    return tuple(units)


class ModbusWire:
    """The readings of a pond in the units of a bus: what the story's line does befalls the first of them, and the
    others go on. A thread answers while the port is plugged.
    """

    def __init__(self, port: Port, slave: Slave | None = None, units: Sequence[Unit] = (Unit(),)) -> None:
        self.slave = slave or Slave()
        self.slave.faults |= {unit.number: unit.fault for unit in units}
        self._units = tuple(units)
        self._port = port
        self._lock = threading.Lock()
        self._plugged = False
        self._thread: threading.Thread | None = None

    def plug(self) -> None:
        """Be on the bus; nothing if it is there already."""
        if self._plugged:
            return
        self._port.plug()
        self._plugged = True
        self._thread = threading.Thread(target=self._serve, name="modbus-slave", daemon=True)
        self._thread.start()

    def unplug(self) -> None:
        """Be gone, the port with it."""
        self._plugged = False
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        self._port.unplug()

    def say(self, row: Row) -> None:
        """Hold these values from now on."""
        self._hold(row, self._units[0].fault)

    def babble(self, noise: bytes, row: Row) -> None:
        """Answer with noise from now on."""
        self.slave.noise = noise
        self._hold(row, "garbage")

    def hush(self, row: Row) -> None:
        """Answer nothing from now on."""
        self._hold(row, "silent")

    def _hold(self, row: Row, first: Fault) -> None:
        with self._lock:
            for unit in self._units:
                self.slave.units[unit.number] = registers(row.ph + unit.more_ph, row.water, row.rain or 0.0)
            self.slave.faults[self._units[0].number] = first

    def _serve(self) -> None:
        while self._plugged:
            if not (heard := self._port.read(LOOK_S)):
                time.sleep(LOOK_S)  # where nobody is there to wait for
                continue
            with self._lock:
                said = self.slave.hear(heard)
            if said:
                self._port.write(said)
