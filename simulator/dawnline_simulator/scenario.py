"""A scenario: a pond, its weather, what befalls it, and what becomes of the instrument."""

from __future__ import annotations

from dataclasses import dataclass, field

from dawnline_simulator.faults import Fault
from dawnline_simulator.happenings import Happening
from dawnline_simulator.pond import PondParameters
from dawnline_simulator.probes import PH_PROBE, WATER_PROBE, ProbeParameters
from dawnline_simulator.weather import Climate

START = "2026-06-04T00:00:00+02:00"


@dataclass(frozen=True, slots=True)
class Scenario:
    """Data only; `simulate` runs it. Vary it with dataclasses.replace.

    `days` is its default length. `alkalinity_meq_l` is what the water has at the start, `calcium_mmol_l`
    stays from better days; the pH at the start is that of the pond's own rhythm. The seed moves every rain
    by up to `shift_minutes` and scales it by up to `rain_scatter`.
    """

    name: str
    days: int
    alkalinity_meq_l: float = 1.0
    calcium_mmol_l: float = 0.5
    water_c: float = 17.0
    pond: PondParameters = field(default_factory=PondParameters)
    climate: Climate = field(default_factory=Climate)
    happenings: tuple[Happening, ...] = ()
    faults: tuple[Fault, ...] = ()
    ph_probe: ProbeParameters = PH_PROBE
    water_probe: ProbeParameters = WATER_PROBE
    shift_minutes: float = 20.0
    rain_scatter: float = 0.1
