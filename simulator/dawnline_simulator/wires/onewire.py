"""A 1-Wire thermometer as the Linux kernel shows it: FOLDER/28-0316a2795e7b/w1_slave, two lines of text.

The nine bytes are those of a DS18B20 (Maxim data sheet 19-7487): temperature in sixteenths of a degree, lower
byte first, two alarm limits, configuration for twelve bits, three reserved bytes, check sum.
"""

from __future__ import annotations

import shutil
import struct
from contextlib import suppress
from pathlib import Path

from dawnline_simulator.simulate import Row

DEVICE = "28-0316a2795e7b"


def crc8(data: bytes) -> int:
    """Maxim application note 27: x^8 + x^5 + x^4 + 1, bit by bit through a shift register, lowest bit first.

    >>> f"{crc8(bytes.fromhex('02 1C B8 01 00 00 00')):02X}"
    'A2'
    """
    register = 0
    for byte in data:
        for place in range(8):
            feedback = (register ^ (byte >> place)) & 1
            register >>= 1
            if feedback:
                register ^= 0b1000_1100
    return register


def scratchpad(water_c: float) -> bytes:
    """The device's nine bytes.

    >>> scratchpad(23.125).hex(" ")
    '72 01 4b 46 7f ff 0e 10 57'
    """
    sixteenths = round(water_c * 16)
    # The sixth reserved byte counts what is left of the sixteenth; 0x10 less it is what real devices show.
    eight = struct.pack("<hBBBBBB", sixteenths, 0x4B, 0x46, 0x7F, 0xFF, 0x10 - sixteenths % 16, 0x10)
    return eight + bytes([crc8(eight)])


def text(nine: bytes, thousandths: int) -> str:
    """The two lines, with the kernel's verdict on the check sum.

    >>> text(bytes.fromhex("72014b467fff0e1057"), 23125)
    '72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\\n72 01 4b 46 7f ff 0e 10 57 t=23125\\n'
    """
    right = crc8(nine[:8])
    verdict = "YES" if right == nine[8] else "NO"
    return f"{nine.hex(' ')} : crc={right:02x} {verdict}\n{nine.hex(' ')} t={thousandths}\n"


class OneWireFolder:
    """One thermometer in `folder`, which stands for /sys/bus/w1/devices. Only temperature: pH has no 1-Wire."""

    def __init__(self, folder: Path, device: str = DEVICE) -> None:
        self._place = folder / device

    def plug(self) -> None:
        """Be there: the folder, empty until the first reading."""
        self._place.mkdir(parents=True, exist_ok=True)

    def unplug(self) -> None:
        """Be gone."""
        with suppress(FileNotFoundError):
            shutil.rmtree(self._place)

    def say(self, row: Row) -> None:
        """Show this temperature from now on."""
        nine = scratchpad(row.water)
        # The kernel divides whole numbers, toward zero.
        self.show(text(nine, int(struct.unpack_from("<h", nine)[0] * 1000 / 16)))

    def babble(self, noise: bytes, _row: Row) -> None:
        """Show bytes that came over the wire disturbed."""
        nine = (noise + bytes(9))[:8]
        self.show(text(nine + bytes([crc8(nine) ^ 0xFF]), 0))

    def hush(self, _row: Row) -> None:
        """Show what the kernel reads where nothing pulls the line down: all ones."""
        self.show(text(b"\xff" * 9, -62))

    def show(self, content: str) -> None:
        """Whole at once, as the kernel's file is."""
        fresh = self._place / "w1_slave.new"
        fresh.write_text(content, encoding="ascii")
        fresh.replace(self._place / "w1_slave")
