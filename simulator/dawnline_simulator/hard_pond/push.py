"""What people, animals and events do to the pond at one moment, beside the sky."""

from __future__ import annotations

from dataclasses import dataclass

from dawnline_simulator.hard_pond.state import Layer


@dataclass(slots=True)
class Push:
    """What acts on the pond beside the sky; shares and rates of this moment."""

    air: float = 1.0
    pump: float = 1.0
    bloom: float = 1.0
    dying_per_h: float = 0.0
    acid_ueq_l_h: float = 0.0  # of the upper layer
    inflow_per_h: float = 0.0  # of the upper layer, tap
    tap: Layer | None = None
    rain_mm_h: float = 0.0  # beyond the weather's own
    storm_labile: float = 0.0
    storm_alkalinity: float = 0.0
    sun: float = 0.0  # -1 to 1: activity of the fish
    meal_g: float = 0.0
