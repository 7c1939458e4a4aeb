"""Water that comes in, rain or tap, and as much that spills: both at the surface."""

from __future__ import annotations

from math import exp

from dawnline_simulator.hard_pond.parameters import HardPond
from dawnline_simulator.hard_pond.push import Push
from dawnline_simulator.hard_pond.sky import Sky
from dawnline_simulator.hard_pond.state import Layer, blend


def pour(top: Layer, sky: Sky, push: Push, pond: HardPond, hours: float) -> tuple[Layer, float, float]:
    """Rain and tap into the upper layer, as much spills; with the carbon [mol] and charge [eq] that crossed."""
    carbon = charge = 0.0
    rain = sky.rain_mm_h + push.rain_mm_h
    if rain > 0.0:
        storm = push.rain_mm_h / rain
        alkalinity = storm * push.storm_alkalinity + (1.0 - storm) * pond.rain_alkalinity
        labile = storm * push.storm_labile + (1.0 - storm) * pond.rain_labile
        dic = 17.0 + max(alkalinity, 0.0)
        water = Layer(sky.air_c, alkalinity, dic, 280.0, 20.0, 20.0, 10.0, 0.0, labile, top.ph)
        share = rain * (pond.area_m2 + pond.catchment_m2) / pond.surface_litres * hours
        top, carbon, charge = _swap(top, water, share, pond)
    if push.tap is not None:
        top, more, charged = _swap(top, push.tap, push.inflow_per_h * hours, pond)
        carbon, charge = carbon + more, charge + charged
    return top, carbon, charge


def _swap(top: Layer, water: Layer, share: float, pond: HardPond) -> tuple[Layer, float, float]:
    after = blend(top, water, 1.0 - exp(-share))
    litres = pond.surface_litres * 1e-6

    def carbon(one: Layer) -> float:
        return one.dic + one.plankton + one.labile

    def charge(one: Layer) -> float:
        return one.alkalinity - one.ammonia + one.nitrate - 2.0 * one.calcium

    return after, litres * (carbon(after) - carbon(top)), litres * (charge(after) - charge(top))
