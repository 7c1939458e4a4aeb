"""Fuzz of every dialect: random bytes, broken valid ones, huge numbers, deep JSON, text of every script.

    python tests/benchmarks/fuzz.py [--count 100000] [--seed S] [--dialect NAME]

No exception may pass the dialect (where a link catches what is left, its class "fault of ours" must stay at zero); what
comes out is finite and dated in this century; every input is a value or a counted refusal; a stream gives the same
however it is cut; and what is kept in memory does not grow with the number of inputs.
"""

from __future__ import annotations

import argparse
import gc
import json
import math
import struct
import sys
import time
import tracemalloc
from collections import Counter
from collections.abc import Callable
from random import Random
from types import SimpleNamespace
from typing import Any, NamedTuple

import structlog

from dawnline.broker import MqttSettings
from dawnline.event import Tick
from dawnline.probes.dialects.fields import json_fields, pick
from dawnline.probes.dialects.modbus import answer, question
from dawnline.probes.dialects.moment import EARLIEST_S, LATEST_S, moment
from dawnline.probes.dialects.number import number
from dawnline.probes.dialects.payload import MAX_PAYLOAD_BYTES
from dawnline.probes.dialects.registers import RegisterForm
from dawnline.probes.dialects.registers import decode as decode_registers
from dawnline.probes.dialects.routing import Route, Routing
from dawnline.probes.dialects.text import Splitter
from dawnline.probes.dialects.value import Refusal, Refused
from dawnline.probes.dialects.w1_slave import decode as decode_w1
from dawnline.probes.intake import Batch, Intake
from dawnline.probes.links.link import LinkReport
from dawnline.probes.links.mqtt import MqttLink
from dawnline.probes.links.rtu import answer_in, complaint, framed
from dawnline.probes.links.serial import SerialLink

COUNT, SEED = 100_000, 1
# What one dialect may hold at its worst moment [bytes]: the longest input, its parse, and the books of a link.
PEAK_BOUND = 2_000_000
KEPT_BOUND = 100_000  # what is left of all inputs: the books of a link, caches of the standard library

W1 = b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n"
LINES = (b"7.12", b"ph=7.12 temp=18.4", b"ph=7.13; temp=18.5, fw=1.2b", b'{"ph": 7.12, "temp": 18.4, "t": 1780461000}')
OBJECTS = (
    b"7.12",
    b'"7.12"',
    b'{"water":{"ph":7.12,"temp":18.4},"t":1780461000250}',
    b'{"ph":"7.12","t":"2026-06-03T04:30:00+02:00"}',
)
TIMES = (b"1780461000", b"1780461000250", b'"2026-06-03T04:30:00Z"', b'"20260603T0430+02"', b'"2026-W23-3T04:30:00Z"')
NUMBERS = (b"1" * 400, b"9e999", b"-1e-999", b"nan", b"-Infinity", b"0x7", b"7,12", b"1_0", b"true", b"1e5", b"-0.0")
SCRIPTS = ("٧.١٢", "pH值=7", "größe", "\u202e7.12", "\x00", "\ufeff7.12", "𝟕.𝟏𝟐", "7．12", "\ud800")


class Outcome(NamedTuple):
    """What a run found: inputs by what became of them, memory at its peak and at the end [bytes], and the time [s]."""

    inputs: int
    classes: dict[str, int]
    peak_bytes: int
    kept_bytes: int
    seconds: float


# ------------------------------------------------------------ inputs


def broken(dice: Random, valid: tuple[bytes, ...]) -> bytes:
    """One input: a valid one, a broken one, or something else altogether."""
    data = bytearray(dice.choice(valid))
    match dice.randrange(12):
        case 0:
            pass
        case 1 | 2:
            for _ in range(dice.randint(1, 4)):
                bit = dice.randrange(8 * len(data))
                data[bit // 8] ^= 1 << bit % 8
        case 3:
            del data[dice.randrange(len(data) + 1) :]
        case 4:
            data *= 2
        case 5:
            data[dice.randrange(len(data) + 1) : 0] = dice.randbytes(dice.randint(1, 6))
        case 6:
            other, at = dice.choice(valid), dice.randrange(len(data) + 1)
            data[at:] = other[dice.randrange(len(other)) :]
        case 7:
            data = bytearray(_with_number(dice, bytes(data)))
        case 8:
            data = bytearray(_deep(dice))
        case 9:
            text = dice.choice(SCRIPTS) * dice.choice((1, 1, 30))
            data[dice.randrange(len(data) + 1) : 0] = text.encode("utf-8", "surrogatepass")
        case 10:
            data = bytearray(dice.randbytes(dice.choice((0, 1, 2, 9, 60, 300))))
        case _:
            data = data * dice.choice((1, 3, 50))
    return bytes(data)


def _with_number(dice: Random, data: bytes) -> bytes:
    digits = [i for i, byte in enumerate(data) if 48 <= byte <= 57]
    at = dice.choice(digits) if digits else 0
    return data[:at] + dice.choice(NUMBERS) + data[at + 1 :]


def _deep(dice: Random) -> bytes:
    depth = dice.choice((3, 9, 17, 40, 40, 1200))
    opening, closing = dice.choice(((b"[", b"]"), (b'{"a":', b"}"), (b'{"water":[', b"]}")))
    return opening * depth + b"7" + closing * (depth if dice.random() < 0.7 else 0)


# ------------------------------------------------------------ dialects


class Lines:
    """The serial text link, fed whole and in chunks, every fifth time byte by byte."""

    def __init__(self, dice: Random) -> None:
        self._dice = dice
        self._classes: Counter[str] = Counter()

    def run(self, count: int) -> Counter[str]:
        """Lines, fifty at a time."""
        for begin in range(0, count, 50):
            lines = [broken(self._dice, LINES) for _ in range(min(50, count - begin))]
            wire = b"".join(line + self._dice.choice((b"\n", b"\r\n", b"\r")) for line in lines)
            sizes = [self._dice.randint(1, 50) for _ in range(9)]
            whole = self._feed(wire, [len(wire)])
            assert self._feed(wire, sizes) == whole, wire
            if begin % 250 == 0:
                assert self._feed(wire, [1]) == whole, wire
            self._classes.update(whole[1])
        return self._classes

    @staticmethod
    def _feed(wire: bytes, sizes: list[int]) -> tuple[list[float], dict[str, int]]:
        intake, splitter = Intake(lambda: 1), Splitter()
        link = SerialLink("/dev/none", 9600, [Route("ph", None, "t"), Route("water", "temp")], intake)
        at = n = 0
        while at < len(wire):
            size = sizes[n % len(sizes)]
            link._handle(splitter.feed(wire[at : at + size]))
            at, n = at + size, n + 1
        assert splitter.close() is None
        return _values(intake), _classes(link.report())


class Payloads:
    """The MQTT link: payloads of three topics, one of which nobody knows."""

    def __init__(self, dice: Random) -> None:
        self._dice, self._intake = dice, Intake(lambda: 1)
        known = [("ph", Route("ph")), ("object", Route("water", "water.temp", "t")), ("object", Route("x", "ph", "t"))]
        self._link = MqttLink(MqttSettings(host="localhost"), "id", known, self._intake)

    def run(self, count: int) -> Counter[str]:
        """One payload a message."""
        take: Any = self._link.connection.caught(self._link.connection.on_message)
        said = 0
        for _ in range(count):
            payload = broken(self._dice, OBJECTS)
            if self._dice.random() < 0.001:
                payload *= MAX_PAYLOAD_BYTES // max(len(payload), 1) + 1
            topic = self._dice.choice(("ph", "object", "object", "stranger"))
            flags = {"qos": 0, "dup": self._dice.random() < 0.1, "retain": self._dice.random() < 0.1, "mid": 1}
            take(None, None, SimpleNamespace(topic=topic, payload=payload, **flags))
            _values(self._intake)
            told = sum(_classes(self._link.report()).values())
            assert told > said, payload  # every input is a value or a refusal
            said = told
        return Counter(_classes(self._link.report()))


class Frames:
    """Modbus RTU as the bus hears it: part by part, until an answer is whole."""

    REQUEST = framed(17, question("holding", 107, 2))

    def __init__(self, dice: Random) -> None:
        self._dice = dice
        good = framed(17, bytes.fromhex("03 04 02 bc 00 fa"))
        self._valid = (good, self.REQUEST + good, framed(17, b"\x83\x02"), framed(18, good[1:-2]), b"\x00" + good)

    def run(self, count: int) -> Counter[str]:
        """What was heard after one question."""
        classes: Counter[str] = Counter()
        for _ in range(count):
            heard = broken(self._dice, self._valid)
            part = self._dice.choice((1, 1, 3, 7, 512)) if len(heard) < 60 else self._dice.choice((16, 60, 512))
            found = self._listen(heard, part)
            if isinstance(found, Refused):
                classes[found.refusal.value] += 1
                continue
            frame = bytes([self.REQUEST[0]]) + found
            assert frame + _crc16(frame) in heard, heard.hex(" ")
            data = answer(found, "holding", 2)
            value = data if isinstance(data, Refused) else decode_registers(data, RegisterForm("float32"))
            _count(classes, value)
        return classes

    def _listen(self, heard: bytes, part: int) -> bytes | Refused:
        heard = heard[:512]  # as much as the link takes
        for end in range(part, len(heard) + part, part):
            if (found := answer_in(heard[:end], self.REQUEST)) is not None:
                return found
        return complaint(heard, self.REQUEST)


def _crc16(data: bytes) -> bytes:
    """Modbus over Serial Line V1.02, appendix B: a second writing of it, not the library's."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xA001 if crc & 1 else 0)
    return struct.pack("<H", crc)


class Registers:
    """The bytes of registers in every form, and answers of any shape."""

    def __init__(self, dice: Random) -> None:
        self._dice = dice

    def run(self, count: int) -> Counter[str]:
        """One form and its bytes, sometimes too few or too many."""
        dice, classes = self._dice, Counter[str]()
        for _ in range(count):
            form = RegisterForm(
                dice.choice(("int16", "uint16", "int32", "uint32", "float32")),
                dice.choice(("big", "little")),
                dice.choice(("big", "little")),
                dice.choice((1.0, 0.01, -1e308, 5e-324)),
                dice.choice((0.0, -40.0, 1e308)),
                dice.choice(((), (0x8000,), (0x7FFFFFFF, 0))),
            )
            size = 2 * form.count if dice.random() < 0.8 else dice.randrange(12)
            data = dice.choice((dice.randbytes(size), b"\xff" * size, b"\x00" * size, b"\x7f\x80" * (size // 2)))
            found = answer(bytes([3, len(data)]) + data, "holding", form.count)
            _count(classes, found if isinstance(found, Refused) else decode_registers(found, form))
            _count(classes, decode_registers(data, form))
        return classes


class Thermometer:
    """The kernel's 1-Wire file."""

    def __init__(self, dice: Random) -> None:
        self._dice = dice

    def run(self, count: int) -> Counter[str]:
        """One file each."""
        classes: Counter[str] = Counter()
        for _ in range(count):
            found = decode_w1(broken(self._dice, (W1, W1.replace(b"23125", b"85000"), W1.replace(b"YES", b"NO"))))
            assert isinstance(found, Refused) or -55.0 <= found <= 125.0
            _count(classes, found)
        return classes


class Times:
    """Numbers, times, key paths and routing, fed straight, past the line or payload around them."""

    def __init__(self, dice: Random) -> None:
        self._dice = dice
        self._routing = Routing([Route("ph", "a.b", "t"), Route("water"), Route("x", "", "a")])

    def run(self, count: int) -> Counter[str]:
        """One text each."""
        classes: Counter[str] = Counter()
        for _ in range(count):
            text = broken(self._dice, (*TIMES, *OBJECTS)).decode("utf-8", "surrogateescape")
            _count(classes, number(text))
            at = moment(text.strip('"'))
            assert isinstance(at, Refusal) or EARLIEST_S * 1000 <= at < LATEST_S * 1000
            fields = json_fields(self._dice.choice(('{"a":{"b":%s},"t":%s}', '{"a.b":7,"":%s,"t":%s}')) % (text, text))
            if isinstance(fields, Refusal):
                classes[fields.value] += 1
                continue
            found = pick(fields, "a.b", "t")
            _count(classes, found if isinstance(found, Refused) else found.value)
            routed = self._routing.route(fields)
            assert routed.values or routed.refused, text
            assert all(math.isfinite(value) for _, value, _ in routed.values), text
        return classes


def _values(intake: Intake) -> list[float]:
    """Everything that waits in the queue; it is finite and has whole times."""
    found = []
    while not isinstance(item := intake.take(0), Tick):
        assert isinstance(item, Batch)
        for sample in item.samples:
            assert math.isfinite(sample.value)
            assert isinstance(sample.at, int)
            found.append(sample.value)
    return found


def _classes(report: LinkReport) -> dict[str, int]:
    """What a link counted; none of it a fault of ours, and all of it fit to be shown."""
    assert Refusal.FAULT.value not in report.bad, report.last_refused
    assert all(len(text) <= 80 and text.isascii() for text in report.last_refused.values())
    json.dumps(report.as_json(), allow_nan=False)
    return {"good": report.good, **report.bad}


def _count(classes: Counter[str], found: float | Refusal | Refused) -> None:
    if isinstance(found, Refused):
        assert len(found.text) <= 80
        found = found.refusal
    if isinstance(found, Refusal):
        assert found is not Refusal.FAULT
        classes[found.value] += 1
    else:
        assert math.isfinite(found)
        classes["good"] += 1


DIALECTS: dict[str, Callable[[Random], Any]] = {
    "text lines": Lines,
    "MQTT payloads": Payloads,
    "Modbus RTU frames": Frames,
    "registers": Registers,
    "w1_slave": Thermometer,
    "times and routes": Times,
}


# ------------------------------------------------------------ the run


def run(dialect: str, count: int = COUNT, seed: int = SEED) -> Outcome:
    """`count` inputs of one dialect. Raises AssertionError, with the input, where one hurts."""
    structlog.configure(logger_factory=structlog.ReturnLoggerFactory(), processors=[lambda *_: ""])
    made = DIALECTS[dialect](Random(f"{seed}/{dialect}"))
    made.run(100)  # what is loaded on first use is not counted
    tracemalloc.start()
    begun = time.perf_counter()
    try:
        classes = made.run(count)
        gc.collect()
        kept, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
        structlog.reset_defaults()
    assert peak < PEAK_BOUND, f"{peak} bytes in use"
    assert kept < KEPT_BOUND, f"{kept} bytes kept"
    return Outcome(count, dict(classes), peak, kept, time.perf_counter() - begun)


def main() -> int:
    """Print one line a dialect."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=COUNT)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--dialect", choices=list(DIALECTS))
    args = parser.parse_args()
    print(f"{'dialect':<20}{'inputs':>8}{'good':>9}{'refused':>9}{'classes':>8}{'peak':>9}{'kept':>8}{'time':>8}")
    for dialect in [args.dialect] if args.dialect else DIALECTS:
        found = run(dialect, args.count, args.seed)
        good, bad = found.classes.get("good", 0), {k: v for k, v in found.classes.items() if k != "good"}
        print(
            f"{dialect:<20}{found.inputs:>8}{good:>9}{sum(bad.values()):>9}{len(bad):>8}"
            f"{found.peak_bytes / 1000:>6.0f} kB{found.kept_bytes / 1000:>5.0f} kB{found.seconds:>6.0f} s"
        )
        print("    " + ", ".join(f"{name} {count}" for name, count in sorted(bad.items(), key=lambda kv: -kv[1])))
    return 0


if __name__ == "__main__":
    sys.exit(main())
