"""A probe in a hard pond: at its depth, slow and slower as it fouls, wrong about the temperature, wandering."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

from dawnline.water.constants import ZERO_CELSIUS_K
from dawnline_simulator.dice import Dice
from dawnline_simulator.hard_pond.state import PondState

DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class ElectrodeParameters:
    """One pH electrode; common practice, no source, but for the wander, which the design of the watch states."""

    in_surface: float = 0.5  # 1 hangs in the upper layer, 0 in the lower
    wander_per_root_day: float = 0.02
    temperature_error_c: float = 0.0  # what compensates, less the truth
    lag_s: float = 30.0
    fouling_per_day: float = 0.15  # how much longer the lag grows, until it is cleaned
    noise: float = 0.01
    spikes_per_day: float = 1.0
    spike_size: float = 0.7
    resolution: float = 0.01


class Electrode:
    """Reads in the order of time; `clean` and `calibrate` are what the keeper does."""

    def __init__(self, parameters: ElectrodeParameters, dice: Dice) -> None:
        self._p, self._dice = parameters, dice
        self._shown: float | None = None
        self._wander = 0.0
        self._soiled_days = 0.0

    def read(self, state: PondState, seconds: float) -> float:
        """The pH shown, `seconds` after the last reading. A wrong temperature turns it about pH 7 (Nernst)."""
        p = self._p
        truth = p.in_surface * state.surface.ph + (1.0 - p.in_surface) * state.bottom.ph
        self._shown = truth if self._shown is None else self._shown
        self._soiled_days += seconds / DAY_S
        lag = p.lag_s * (1.0 + p.fouling_per_day * self._soiled_days)
        self._shown += (1.0 - exp(-seconds / lag)) * (truth - self._shown)
        self._wander += self._dice.gauss(0.0, p.wander_per_root_day * sqrt(seconds / DAY_S))
        kelvin = state.surface.temperature_c + ZERO_CELSIUS_K
        value = 7.0 + (self._shown - 7.0) * kelvin / (kelvin + p.temperature_error_c)
        value += self._wander + self._dice.gauss(0.0, p.noise)
        if self._dice.random() < p.spikes_per_day * seconds / DAY_S:
            value += self._dice.gauss(0.0, p.spike_size)
        return round(value / p.resolution) * p.resolution

    def clean(self) -> None:
        """The film is off: quick again."""
        self._soiled_days = 0.0

    def calibrate(self) -> float:
        """Checked in buffer solution and set right; gives the offset that was found [pH]."""
        found, self._wander = self._wander, 0.0
        return found
