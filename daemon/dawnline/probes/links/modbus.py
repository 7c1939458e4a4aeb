"""The Modbus link: one thread and one connection a bus, shared by the probes on it.

Every probe is one question. A unit that does not answer is asked ever more rarely, up to once a minute, so that
its silence costs the others at most a second each time.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from dawnline.probes.dialects.modbus import Table, answer, question
from dawnline.probes.dialects.registers import RegisterForm, decode
from dawnline.probes.dialects.value import Refusal, Refused, shown
from dawnline.probes.intake import Intake
from dawnline.probes.links.modbus_bus import Bus, Line
from dawnline.probes.links.polling import PollingLink
from dawnline.probes.links.timetable import Turn


class RegisterRead(NamedTuple):
    """One probe on a bus: unit 1 to 247, 0-based address of its (first) register, how its number is written."""

    probe: str
    unit: int
    table: Table
    register: int
    form: RegisterForm
    interval_s: float


class ModbusLink(PollingLink[RegisterRead]):
    """Asks the units on the bus at `line` for the registers of `reads`, each in its interval."""

    def __init__(self, line: Line, reads: Sequence[RegisterRead], intake: Intake) -> None:
        super().__init__(
            f"modbus:{line.port}", (Turn(read, read.interval_s, group=read.unit) for read in reads), intake
        )
        self._line = line
        self._bus: Bus | None = None

    def session(self) -> None:
        """Open the port and poll."""
        with Bus(self._line, self._stop.is_set) as self._bus:
            self.opened()
            self.poll()

    def ask(self, what: RegisterRead) -> tuple[str, float | Refused] | None:
        """Ask one unit for one number."""
        assert self._bus is not None
        count = what.form.count
        pdu = self._bus.ask(what.unit, question(what.table, what.register, count), 5 + 2 * count)
        if pdu is None:
            return None
        if not isinstance(pdu, Refused) or pdu.refusal is not Refusal.NO_ANSWER:
            self._tally.heard()
        return what.probe, _placed(_value(pdu, what), what)


def _value(pdu: bytes | Refused, what: RegisterRead) -> float | Refused:
    data = pdu if isinstance(pdu, Refused) else answer(pdu, what.table, what.form.count)
    return data if isinstance(data, Refused) else decode(data, what.form)


def _placed(found: float | Refused, what: RegisterRead) -> float | Refused:
    """A refusal says who is meant: several share the bus."""
    if not isinstance(found, Refused):
        return found
    text = f"unit {what.unit}, {what.table} register {what.register}"
    return Refused(found.refusal, shown(f"{text}: {found.text}" if found.text else text), what.probe)
