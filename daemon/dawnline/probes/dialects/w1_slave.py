r"""A 1-Wire thermometer as the Linux kernel shows it: the file `w1_slave` of its w1_therm driver.

    72 01 4b 46 7f ff 0e 10 57 : crc=57 YES      the device's nine bytes, their check sum, the kernel's verdict
    72 01 4b 46 7f ff 0e 10 57 t=23125           the last bytes found right, and thousandths of a degree

Linux kernel documentation, "Kernel driver w1_therm", and drivers/w1/slaves/w1_therm.c. Where the verdict is NO, the
number in the second line is made of the wrong bytes: it is not used. Where the device cannot be reached at all, the
file is empty or cannot be read.
"""

from __future__ import annotations

import re
from typing import Final

from dawnline.probes.dialects.value import Refusal, Refused, shown

MAX_BYTES: Final = 256  # twice what the kernel writes

_BYTES: Final = r"((?:[0-9a-f]{2} ){9})"
_FIRST: Final = re.compile(_BYTES + r": crc=([0-9a-f]{2}) (YES|NO|yes|no)")
_SECOND: Final = re.compile(_BYTES + r"t=(-?[0-9]{1,6})")

# Data sheet of the DS18B20 (Maxim 19-7487): -55 to 125 degC; 85 degC stands in it from power-on until the first
# measurement has ended. 127.9375 (07FF) is what it answers where power failed during the measurement, 127.6875
# where the element is broken (common practice, no source).
_LOWEST, _HIGHEST = -55_000, 125_000
_POWER_ON: Final = 85_000
_OPEN_CIRCUIT: Final = (127_687, 127_937)


def decode(content: bytes) -> float | Refused:
    r"""The temperature [degC] that the file says, or why it says none.

    >>> decode(b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n")
    23.125
    """
    if len(content) > MAX_BYTES:
        return Refused(Refusal.TOO_LONG, shown(content))
    if not content.strip():
        return Refused(Refusal.EMPTY, "")
    try:
        lines = content.decode("ascii").split("\n")
    except UnicodeDecodeError:
        return Refused(Refusal.NOT_ASCII, shown(content))
    refusal = _first_line(lines[0])
    # Both lines have their ends, or the last digits may be missing.
    if refusal is None and (len(lines) < 3 or "t=" not in lines[1]):
        refusal = Refusal.NO_TEMPERATURE
    found = refusal or _second_line(lines[1])
    return Refused(found, shown(content)) if isinstance(found, Refusal) else found


def crc8(data: bytes) -> int:
    """The check sum of 1-Wire: polynomial x^8 + x^5 + x^4 + 1, lowest bit first, from zero.

    Maxim application note 27, whose example is the number of a device:

    >>> hex(crc8(bytes.fromhex("02 1C B8 01 00 00 00")))
    '0xa2'
    """
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0x8C if crc & 1 else 0)
    return crc


def _first_line(line: str) -> Refusal | None:
    match = _FIRST.fullmatch(line)
    if match is None:
        return Refusal.NOT_TWO_LINES
    scratchpad = bytes.fromhex(match[1])
    if match[3].upper() == "NO" or crc8(scratchpad[:8]) != scratchpad[8] or int(match[2], 16) != scratchpad[8]:
        return Refusal.CHECKSUM
    # Nine zeros have the right check sum.
    return None if any(scratchpad) else Refusal.ALL_ZERO


def _second_line(line: str) -> float | Refusal:
    match = _SECOND.fullmatch(line)
    if match is None:
        return Refusal.NOT_TWO_LINES
    thousandths = int(match[2])
    if thousandths == _POWER_ON:
        return Refusal.POWER_ON
    if thousandths in _OPEN_CIRCUIT:
        return Refusal.OPEN_CIRCUIT
    return thousandths / 1000 if _LOWEST <= thousandths <= _HIGHEST else Refusal.OUT_OF_RANGE
