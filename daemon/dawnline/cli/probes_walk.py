"""What the keeper sees and says on the way through buffer solutions; any terminal will do, and a pipe."""

from __future__ import annotations

import shutil
import sys
from datetime import UTC
from typing import Any, Final

from dawnline.cli.keyboard import Keyboard
from dawnline.duration import parse_time, show_duration
from dawnline.electrode.calibration import STANDARD_C, Calibration
from dawnline.electrode.electrode import describe
from dawnline.electrode.walk import UNKNOWN, Step, Walk, in_force, interval
from dawnline.errors import InputError
from dawnline.probes.settings import ProbeSettings
from dawnline.quantity import QUANTITIES
from dawnline.service import now_file
from dawnline.settings import Settings

LOOK_S: Final = 0.2  # machine time between looks at the present
TELL_MS: Final = 30_000  # pond time between lines about a reading that settles, where lines cannot be overwritten
QUIT: Final = ("q", "quit")


class Stopped(Exception):  # noqa: N818 - nothing is wrong: somebody has had enough
    """The keeper, or what the service says, ends it; the text says why."""


class WalkTerminal:
    """Leads one walk at one probe."""

    def __init__(self, settings: Settings, probe: ProbeSettings) -> None:
        self.store = settings.store.path
        self.probe = probe.name
        self.thermometer = probe.temperature
        self.quantity = QUANTITIES[probe.quantity]
        self.keyboard = Keyboard()
        self.celsius: float | None = None  # as typed last
        self.clock_set = True  # as the service said last
        self.overwrites = sys.stdout.isatty()

    def present(self) -> dict[str, Any]:
        """What the running service sees. Raises InputError where none runs."""
        data = now_file.read(self.store)
        if data is None or not now_file.is_current(data):
            raise InputError(
                "the service does not run: without it there is no live value; start it with `dawnline run`"
            )
        return data

    def calibration(self) -> tuple[Calibration, int]:
        """What is in force, and how often it speaks [ms].

        Raises InputError where the service does not run, or does not know the probe.
        """
        probes = self.present()["probes"]
        if self.probe not in probes:
            raise InputError(UNKNOWN.format(self.probe))
        return in_force(probes[self.probe]), interval(probes[self.probe])

    def immerse(self, walk: Walk) -> None:
        """Have the probe put into the next buffer, and hear the temperature."""
        guess, source = self._warmth()
        print(f"\nRinse the probe with clean water, dab it dry, put it into buffer {walk.buffer.name}.")
        while walk.step is Step.IMMERSE:
            text = self._answer(f"Temperature of the buffer in degC [{guess:.1f}, {source}], Enter when it stands: ")
            try:
                celsius = float(text.replace(",", ".")) if text else guess
                walk.immersed(celsius)
            except ValueError:
                print(f"found {text!r}, expected a number of degrees, such as 19.5")
            except InputError as error:
                print(error)
            else:
                self.celsius = celsius if text else self.celsius
        print(f"buffer {walk.buffer.name} has pH {walk.buffer.ph(walk.celsius):.2f} at {walk.celsius:.1f} degC "
              f"({walk.buffer.source})")  # fmt: skip

    def settle(self, walk: Walk) -> None:
        """Show the live value until it is steady."""
        told, warned, silent, since = 0, False, False, self._newest()[0]
        name = walk.buffer.name
        while walk.step is Step.SETTLE:
            if self.keyboard.quits(LOOK_S):
                raise Stopped
            at, measured = self._newest()
            if at <= since:
                silent = self._ask_for_patience(at, silent)
                continue
            since = at
            if walk.see(at, measured, clock_set=self.clock_set):
                break
            if self.overwrites or at - told >= TELL_MS:
                told = at
                self._show(walk, measured)
            if walk.waits_in_vain(at) and not warned:
                warned = True
                print(
                    "\nIt does not become steady: a dirty, dried or old electrode is slow, a loose plug jumps. q stops."
                )
        point, slowest = walk.points[-1], walk.settling_ms[-1]
        line = f"steady in buffer {name}: {self._figure(point.measured)} after {show_duration(slowest)}"
        print(f"\r{line:<{_width()}}" if self.overwrites else line, flush=True)

    @staticmethod
    def _ask_for_patience(at: int, silent: bool) -> bool:
        """Say once that the service is away; gives whether it has been said."""
        if at == 0 and not silent:
            print("\nthe service does not answer; waiting for it. The probe comes back by itself all the same.")
        return at == 0

    def decide(self, walk: Walk) -> None:
        """Show what was found and have it decided."""
        found, judgement = walk.found()
        if found is not None:
            print(f"\nbefore: {'never calibrated' if walk.before.never else describe(walk.before)}")
            print(f"now:    {describe(found)}")
        for remark in judgement.remarks:
            print(f"        {remark}")
        if not judgement.kept:
            print(f"refused: {'; '.join(judgement.reasons)}")
            walk.decide(keep=False)
        else:
            walk.decide(keep=self._answer("Keep it? [y/N] ").lower() in ("y", "yes"))

    def replace(self) -> None:
        """Have the probe put back; whatever is said, it is."""
        print("\nRinse the probe and put it back into the pond. Pour the used buffer away, not into the pond.")
        self.keyboard.ask("Enter when it hangs there: ")

    def _answer(self, prompt: str) -> str:
        """What the keeper says; raises Stopped for q and for the end of input."""
        text = self.keyboard.ask(prompt)
        if text is None or text.lower() in QUIT:
            raise Stopped("" if text is not None else "there is no more input")
        self._still_out()
        return text

    def _still_out(self) -> dict[str, Any]:
        """What the service says of the probe, while it is out of service. Raises Stopped when that is over."""
        try:
            present = self.present()
        except InputError:
            return {}
        mine: dict[str, Any] | None = present["probes"].get(self.probe)
        self.clock_set = present.get("clock_set", True)
        if mine is None:
            raise Stopped(UNKNOWN.format(self.probe))
        if mine["out_until"] is None:
            raise Stopped(
                "the probe is back in service: its time is over (--for makes it longer), or somebody has returned it"
            )
        return mine

    def _newest(self) -> tuple[int, float]:
        """Time [ms] and value of the newest reading; (0, 0) while there is none: a service may be starting again."""
        mine = self._still_out()
        if not mine or mine["value"] is None:
            return 0, 0.0
        return parse_time(mine["time"], UTC), mine["value"]

    def _warmth(self) -> tuple[float, str]:
        """What the buffer's temperature is, as far as we know, and whence [degC]."""
        if self.celsius is not None:
            return self.celsius, "as before"
        try:
            mine = self.present()["probes"].get(self.thermometer or "", {})
        except InputError:
            mine = {}
        if mine.get("value") is not None and mine.get("flag") == "good":
            return float(mine["value"]), f"by {self.thermometer}, if that is in the buffer too"
        return STANDARD_C, "a guess"

    def _show(self, walk: Walk, measured: float) -> None:
        line = f"  {self._figure(measured)}, pH {walk.before.ph(measured, walk.celsius):.2f} so far; {walk.stability}"
        if self.overwrites:  # no longer than the screen is wide, or it would go on below
            line = f"\r{line[: _width()]:<{_width()}}"
        print(line, end="" if self.overwrites else "\n", flush=True)

    def _figure(self, measured: float) -> str:
        return self.quantity.show(measured)


def _width() -> int:
    return shutil.get_terminal_size().columns - 1
