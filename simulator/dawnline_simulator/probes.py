"""What a probe makes of the truth: it lags, it hisses, it wanders, now and then it jumps, and it rounds."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

from dawnline_simulator.dice import Dice

DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class ProbeParameters:
    """One probe, in the unit of its quantity; values of an ordinary industrial pH electrode, common
    practice.
    """

    noise: float = 0.01
    lag_s: float = 30.0
    wander_per_root_day: float = 0.02
    spikes_per_day: float = 1.5
    spike_size: float = 0.8
    resolution: float = 0.01


PH_PROBE = ProbeParameters()
# A digital sensor of 12 bits: steps of 1/16 degC.
WATER_PROBE = ProbeParameters(noise=0.02, lag_s=60.0, wander_per_root_day=0.0, spikes_per_day=0.0, resolution=0.0625)


class Probe:
    """A probe in the water; `read` must be called in the order of time."""

    def __init__(self, parameters: ProbeParameters, dice: Dice) -> None:
        self._parameters = parameters
        self._dice = dice
        self._shown: float | None = None
        self._wander = 0.0

    def read(self, surroundings: float, seconds: float, *, drift: float = 0.0, lag_s: float | None = None) -> float:
        """What it shows of its `surroundings`, `seconds` after the last reading.

        `drift` is added behind the lag; `lag_s` replaces the ordinary lag (a wet bulb in air is slow).

        >>> from random import Random
        >>> quiet = ProbeParameters(noise=0.0, wander_per_root_day=0.0, spikes_per_day=0.0)
        >>> probe = Probe(quiet, Random(1))
        >>> probe.read(7.0, 10.0), probe.read(8.0, 30.0)  # one time constant: 63 % of the step
        (7.0, 7.63)
        """
        p = self._parameters
        if self._shown is None:
            self._shown = surroundings
        share = 1.0 - exp(-seconds / (p.lag_s if lag_s is None else lag_s))
        self._shown += share * (surroundings - self._shown)
        self._wander += self._dice.gauss(0.0, p.wander_per_root_day * sqrt(seconds / DAY_S))
        value = self._shown + self._wander + drift + self._dice.gauss(0.0, p.noise)
        if self._dice.random() < p.spikes_per_day * seconds / DAY_S:
            value += self._dice.gauss(0.0, p.spike_size)
        return round(value / p.resolution) * p.resolution
