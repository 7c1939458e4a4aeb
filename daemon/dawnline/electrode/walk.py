"""The way through a calibration, or a check in one buffer, step by step; whoever shows it (terminal, page) is thin.

    IMMERSE -> SETTLE -> (next buffer: IMMERSE) -> DECIDE -> REPLACE

A check has nothing to decide. `stop` leads to STOPPED from anywhere, and then nothing has changed unless the outcome
was already given away.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC
from enum import Enum
from itertools import pairwise
from math import ceil
from typing import Any, Final

from dawnline.duration import MINUTE_MS, parse_time, show_duration
from dawnline.electrode.acceptance import APART_PH, HARDLY, Judgement, judge
from dawnline.electrode.buffers import Buffer
from dawnline.electrode.calibration import MOST_POINTS, Calibration, Point, fit
from dawnline.electrode.stability import SLOW_MS, Stability
from dawnline.errors import InputError

BACK_NOW: Final = "Its readings count again: rinse it and put it back into the pond now."
UNKNOWN: Final = "the running service knows no probe {}: its configuration has changed; begin again with the one it has"
LASTS_MS: Final = 30 * MINUTE_MS  # how long the probe is out of service, in steps of this
READINGS: Final = (
    10  # of a slow probe, in each buffer: four are the least, the first ones are of an electrode on its way
)
PATIENCE_MS: Final = 10 * MINUTE_MS  # an electrode not steady by then hardly ever will be: common practice, no source


def in_force(probe: Mapping[str, Any]) -> Calibration:
    """The calibration in force, out of what the present says of a probe."""
    held = probe["calibration"]
    at = 0 if held["time"] is None else parse_time(held["time"], UTC)
    return Calibration(probe["quantity"], held["slope"], held["offset"], at)


def interval(probe: Mapping[str, Any]) -> int:
    """How often a probe speaks [ms], out of what the present says of it; 0 where that says nothing."""
    return round(1000 * (probe.get("interval_s") or 0))


class Step(Enum):
    """Where the way has come to."""

    IMMERSE = "put the probe into the buffer"
    SETTLE = "wait until the reading is steady"
    DECIDE = "keep the calibration, or not"
    REPLACE = "put the probe back into the pond"
    STOPPED = "stopped"


class Walk:
    """One calibration (`adjust`) or check under way. Times are ms of pond time, measured values in the probe's unit.

    `every` [ms] is how often the probe speaks. Raises InputError for buffers that give no calibration.
    """

    def __init__(self, probe: str, before: Calibration, buffers: Sequence[Buffer], *, adjust: bool = True) -> None:
        if not 1 <= len(buffers) <= (MOST_POINTS if adjust else 1):
            raise InputError(f"expected one{', two or three buffers' if adjust else ' buffer'}, found {len(buffers)}")
        ranked = sorted(buffers, key=lambda buffer: buffer.nominal)
        for low, high in pairwise(ranked):
            if high.nominal - low.nominal < APART_PH:
                raise InputError(f"buffers {low.name} and {high.name} lie less than {APART_PH:g} pH apart")
        self.probe = probe
        self.before = before
        self.buffers = tuple(buffers)
        self.adjust = adjust
        self.every = 0
        self.step = Step.IMMERSE
        self.points: list[Point] = []
        self.settling_ms: list[int] = []
        self.stability = Stability(before.quantity)
        self.celsius = 0.0
        self.clock_set = True
        self.kept = False

    @property
    def lasts(self) -> int:
        """How long [ms] the probe is to be out of service: half an hour, longer where it speaks seldom."""
        return max(1, ceil(len(self.buffers) * READINGS * self.every / LASTS_MS)) * LASTS_MS

    @property
    def buffer(self) -> Buffer:
        """The one the probe is to stand in now."""
        return self.buffers[min(len(self.points), len(self.buffers) - 1)]

    def immersed(self, celsius: float) -> None:
        """The probe stands in the buffer, which has this temperature [degC].

        Raises InputError, and stays where it is, where the buffer has no value at this temperature.
        """
        self._at(Step.IMMERSE)
        self.buffer.ph(celsius)
        self.celsius, self.stability = celsius, Stability(self.before.quantity)
        self.step = Step.SETTLE

    def see(self, at: int, measured: float, *, clock_set: bool = True) -> bool:
        """Take one reading while it settles; gives whether it is steady now, and the way has gone on.

        Where the clock has been set since the reading before, nobody knows how much time lies between: it begins anew.
        """
        self._at(Step.SETTLE)
        if clock_set != self.clock_set:
            self.clock_set, self.stability = clock_set, Stability(self.before.quantity)
        self.stability.push(at, measured)
        settling = self.stability.settling_ms
        if settling is None:
            return False
        self.settling_ms.append(settling)
        self.points.append(Point(self.buffer.ph(self.celsius), self.stability.value, self.celsius))
        if len(self.points) < len(self.buffers):
            self.step = Step.IMMERSE
        else:
            self.step = Step.DECIDE if self.adjust else Step.REPLACE
            self.kept = not self.adjust
        return True

    def waits_in_vain(self, at: int) -> bool:
        """Whether it has been unsteady for so long that waiting on makes little sense."""
        began_at = self.stability.began_at
        return (
            self.step is Step.SETTLE
            and began_at is not None
            and at - began_at > max(PATIENCE_MS, READINGS * self.every)
        )

    def found(self) -> tuple[Calibration | None, Judgement]:
        """What the buffers give, and whether it may be kept; None where nothing follows from them."""
        try:
            calibration = fit(self.points, 0, self.before)
        except InputError as error:
            return None, Judgement(kept=False, reasons=(str(error),))
        judgement = judge(calibration)
        slowest = max(self.settling_ms, default=0)
        if slowest > max(SLOW_MS, 3 * self.every):
            slow = f"it took {show_duration(slowest)} to be steady: clean it, it may be near its end"
            judgement = judgement._replace(remarks=(*judgement.remarks, slow))
        return calibration if calibration.slope >= HARDLY else None, judgement

    def decide(self, *, keep: bool) -> None:
        """The keeper has decided. Raises InputError for keeping what may not be kept."""
        self._at(Step.DECIDE)
        judgement = self.found()[1]
        if keep and not judgement.kept:
            raise InputError(str(judgement))
        self.kept, self.step = keep, Step.REPLACE

    def outcome(self) -> tuple[str, dict[str, Any]] | None:
        """Kind and body of the act in which it ends; None where it ends in none."""
        if not self.kept:
            return None
        settled = {"probe": self.probe, "settled_s": max(self.settling_ms) / 1000}
        if self.adjust:
            return "calibrated", settled | {"points": [list(point) for point in self.points]}
        ph, measured, celsius = self.points[0]
        return "buffer-check", settled | {"buffer_ph": ph, "measured": measured, "temperature_c": celsius}

    def stop(self) -> None:
        """No further, from wherever it stands."""
        self.step = Step.STOPPED

    def _at(self, step: Step) -> None:
        if self.step is not step:
            raise InputError(f"not now: next, {self.step.value}")
