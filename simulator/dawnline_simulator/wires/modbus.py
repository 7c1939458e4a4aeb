"""A probe on an RS-485 bus: a Modbus RTU slave on a pseudo-terminal, as the protocol's description has it.

Modbus Application Protocol Specification V1.1b3 (functions 3 and 4, exception replies) and Modbus over Serial
Line V1.02 (frame, check sum). Unit 1 holds, as holding and as input registers alike, counted from 0:

    0      pH * 100, unsigned
    1      degC * 100, signed
    2, 3   pH as a 32-bit float, higher half first
    4, 5   degC as a 32-bit float, higher half first
    6      what a rain gauge shows, in tips of 0.2 mm, unsigned, back to 0 after 65535
"""

from __future__ import annotations

import struct
import threading
import time
from collections.abc import Mapping
from typing import Literal, TypeAlias

from dawnline_simulator.gauge import TIP_MM
from dawnline_simulator.simulate import Row
from dawnline_simulator.wires.pty import Port

Fault: TypeAlias = Literal["whole", "silent", "checksum", "exception", "garbage"]

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


class ModbusWire:
    """The readings of a pond in unit 1 of a bus. A thread answers while the port is plugged."""

    def __init__(self, port: Port, slave: Slave | None = None) -> None:
        self.slave = slave or Slave()
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
        with self._lock:
            self.slave.units[1] = registers(row.ph, row.water, row.rain or 0.0)
            self.slave.faults.pop(1, None)

    def babble(self, noise: bytes) -> None:
        """Answer with noise from now on."""
        with self._lock:
            self.slave.noise = noise
            self.slave.faults[1] = "garbage"

    def hush(self) -> None:
        """Answer nothing from now on."""
        with self._lock:
            self.slave.faults[1] = "silent"

    def _serve(self) -> None:
        while self._plugged:
            if not (heard := self._port.read(LOOK_S)):
                time.sleep(LOOK_S)  # where nobody is there to wait for
                continue
            with self._lock:
                said = self.slave.hear(heard)
            if said:
                self._port.write(said)
