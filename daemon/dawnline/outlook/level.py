"""What dawn lows show beside the course of the buffer: the pond's own level, the probe's wander, the water's warmth.

A dawn low less the course of the buffer is c + w + g (T - T_now) + noise. c is the pond's level; known and found steps
change it, and it wanders, by as much a root day as nights scatter. w is the error of the probe, a random walk that a
check in buffer solution shows and a calibration ends. g is what a degree does through K1, the solubility of CO2 and
respiration. All are jointly normal, so a Kalman filter gives the likelihood of a course without inverting anything. Its
gains do not depend on what was measured: they are worked out once, and then serve for every course that is tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log, sqrt
from typing import Final, NamedTuple

DRIFT_PER_ROOT_DAY: Final = 0.02  # pH, wander of an ordinary electrode; common practice, no source
CHECK_SD: Final = 0.01  # pH, of a check in buffer solution
BEGIN_SD: Final = 0.03  # pH, error of a probe of which nothing is known
LEVEL_SD: Final = 2.0
# Per degree: K1 -0.006, solubility +0.013 where air decides, respiration -0.03 and exchange +0.01 where fish decide.
WARMTH: Final = -0.015
WARMTH_SD: Final = 0.01

NIGHT, CHECK, RESET, POND_STEP, PROBE_STEP = range(5)


class Mark(NamedTuple):
    """One entry of the record, in order of time: `days` since the last one.

    NIGHT: `value` is the degrees above the present, `sd` is added to the noise. CHECK: `value` is the measured error of
    the probe [pH]. RESET: calibrated, to `sd`. POND_STEP and PROBE_STEP: a step of unknown size, of `sd`.
    """

    kind: int
    days: float
    value: float = 0.0
    sd: float = 0.0


class Fit(NamedTuple):
    """A course tried: log likelihood, the pond's level now, the probe's error now, pH per degree."""

    likelihood: float
    level: float
    error: float
    warmth: float


class Level:
    """The record's gains for one size of the nightly noise [pH]."""

    def __init__(self, marks: Sequence[Mark], noise: float) -> None:
        self.noise = noise
        self._steps: list[tuple[int, float, float, float, float, float]] = []  # kind, value, gains, 1 / variance
        self._constant = 0.0
        self._p = [LEVEL_SD**2, BEGIN_SD**2, WARMTH_SD**2, 0.0, 0.0, 0.0]  # cc, ww, gg, cw, cg, wg
        for mark in marks:
            self._take(mark)
        self.sd = sqrt(self._p[0])  # of the pond's level now

    def _take(self, mark: Mark) -> None:
        p = self._p
        p[0] += self.noise**2 * mark.days
        p[1] += DRIFT_PER_ROOT_DAY**2 * mark.days
        if mark.kind == NIGHT:
            self._observe((1.0, 1.0, mark.value), self.noise**2 + mark.sd**2, mark)
        elif mark.kind == CHECK:
            self._observe((0.0, 1.0, 0.0), CHECK_SD**2, mark)
        elif mark.kind == RESET:
            p[1], p[3], p[5] = mark.sd**2, 0.0, 0.0
            self._steps.append((RESET, 0.0, 0.0, 0.0, 0.0, 0.0))
        else:
            p[0 if mark.kind == POND_STEP else 1] += mark.sd**2

    def _observe(self, h: tuple[float, float, float], variance: float, mark: Mark) -> None:
        cc, ww, gg, cw, cg, wg = self._p
        a = cc * h[0] + cw * h[1] + cg * h[2]
        b = cw * h[0] + ww * h[1] + wg * h[2]
        c = cg * h[0] + wg * h[1] + gg * h[2]
        s = variance + h[0] * a + h[1] * b + h[2] * c
        self._p = [cc - a * a / s, ww - b * b / s, gg - c * c / s, cw - a * b / s, cg - a * c / s, wg - b * c / s]
        self._steps.append((mark.kind, mark.value, a / s, b / s, c / s, 1.0 / s))
        self._constant += log(s)

    def fit(self, residuals: Sequence[float]) -> Fit:
        """`residuals`: each night's dawn low less the course of the buffer [pH], in order of time."""
        c, w, g = 7.0, 0.0, WARMTH
        squares, left = 0.0, iter(residuals)
        for kind, value, kc, kw, kg, precision in self._steps:
            if kind == NIGHT:
                v = next(left) - c - w - g * value
            elif kind == CHECK:
                v = value - w
            else:
                w = 0.0
                continue
            squares += v * v * precision
            c += kc * v
            w += kw * v
            g += kg * v
        return Fit(-0.5 * (squares + self._constant), c, w, g)

    def surprises(self, residuals: Sequence[float]) -> list[float]:
        """How many standard deviations each night lay off what the nights before it let expect."""
        c, w, g = 7.0, 0.0, WARMTH
        found, left = [], iter(residuals)
        for kind, value, kc, kw, kg, precision in self._steps:
            if kind == RESET:
                w = 0.0
                continue
            v = next(left) - c - w - g * value if kind == NIGHT else value - w
            if kind == NIGHT:
                found.append(v * sqrt(precision))
            c, w, g = c + kc * v, w + kw * v, g + kg * v
        return found
