"""Rows at their time, on a wire."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random
from typing import Protocol

from dawnline_simulator.simulate import Row
from dawnline_simulator.wires.clock import Clock
from dawnline_simulator.wires.mqtt import Publisher
from dawnline_simulator.wires.pty import Port
from dawnline_simulator.wires.stop import Stop
from dawnline_simulator.wires.text import garbage, line

LATE_S = 0.5  # machine time: a reading more than this late (and an interval) is not spoken, as a probe would not


class Wire(Protocol):
    """Something a row can be said on."""

    def plug(self) -> None:
        """Be there."""

    def unplug(self) -> None:
        """Be gone."""

    def say(self, row: Row) -> None:
        """Send one row."""

    def babble(self, noise: bytes, row: Row) -> None:
        """Send something that is no reading; `row` is what it should have been."""

    def hush(self, row: Row) -> None:
        """Say nothing more, even if asked."""


class SerialWire:
    """Text lines on a pseudo-terminal; `form` writes one."""

    def __init__(self, port: Port, form: Callable[[Row], bytes] = line) -> None:
        self.plug, self.unplug, self._port, self._form = port.plug, port.unplug, port, form

    def say(self, row: Row) -> None:
        """Send one line."""
        self._port.write(self._form(row))

    def babble(self, noise: bytes, _row: Row) -> None:
        """Send the noise as it is."""
        self._port.write(noise)

    def hush(self, _row: Row) -> None:
        """Nothing is said without a row."""


class MqttWire:
    """Bare numbers on two topics; what a rain gauge shows is a JSON object on a third."""

    def __init__(self, publisher: Publisher) -> None:
        self.plug, self.unplug, self._publisher = publisher.plug, publisher.unplug, publisher

    def say(self, row: Row) -> None:
        """Publish all values."""
        self._publisher.write("ph", f"{row.ph:.2f}".encode("ascii"))
        self._publisher.write("temp", f"{row.water:.2f}".encode("ascii"))
        if row.rain is not None:
            self._publisher.write("weather", f'{{"rain": {{"mm": {row.rain:.1f}}}}}'.encode("ascii"))

    def babble(self, noise: bytes, _row: Row) -> None:
        """Publish the noise where the pH belongs."""
        self._publisher.write("ph", noise)

    def hush(self, _row: Row) -> None:
        """Nothing is said without a row."""


def speak(rows: Iterable[Row], wire: Wire, clock: Clock, stop: Stop, interval_ms: int) -> None:
    """Say each row when its pond time has come, until the rows end or `stop` is set."""
    noise = Random(0)  # noqa: S311  noise, not a secret
    late = max(interval_ms / 1000.0 / clock.rate, LATE_S)
    for row in rows:
        wait = clock.seconds_until(row.at)
        if stop.wait(wait) if wait > 0.0 else stop.is_set():
            return
        if row.line == "unplugged":
            wire.unplug()
            continue
        wire.plug()
        if row.line == "silent":
            wire.hush(row)
        if wait < -late or row.line == "silent":
            continue
        if row.line == "garbage":
            wire.babble(garbage(noise), row)
        else:
            wire.say(row)
