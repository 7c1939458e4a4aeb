"""What a hard pond is made of."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class HardPond:
    """Sizes and rates at 20 degC; defaults are an ordinary stocked garden pond. Where no source: common sense."""

    volume_litres: float = 14_000.0
    depth_m: float = 1.2
    surface_share: float = 0.6  # of the volume, above the step in temperature
    latitude: float = 48.0
    longitude: float = 8.0
    # air and stirring
    shade: float = 0.25  # of the light, by trees and walls
    shelter: float = 0.6  # wind at the water over wind at 10 m
    diffuser_per_hour: float = 0.12  # transfer of oxygen by bubbles, both layers
    strip_share: float = 0.85  # of that for CO2: bubbles fill up
    diffuser_m_h: float = 0.5  # exchange between the layers that bubbles drive
    pump_m_h: float = 0.15  # and the filter pump
    air_co2_uatm: float = 425.0
    # fish: routine oxygen of carp about 110 mg/(kg h) at 20 degC (from memory)
    fish_kg: float = 10.0
    fish_mg_kg_h: float = 110.0
    fish_q10: float = 2.1
    activity: float = 0.25  # how much more by day and less by night
    feed_g_day: float = 130.0  # at 19 degC and warmer
    protein: float = 0.38
    feed_ramp_per_day: float = 0.0  # growth of the ration, share of the first day's
    meals: tuple[float, ...] = (8.0, 13.0, 18.0)  # hours, local solar time
    # algae
    plankton_per_day: float = 2.0  # growth at 20 degC in full light
    plankton_loss_per_day: float = 0.12
    plankton_crowding: float = 0.0022  # loss per day and umol/L: grazing
    light_half_w_m2: float = 110.0  # onset of saturation
    carbon_half: float = 12.0
    bicarbonate_use: float = 0.035
    walls_umol_m2_h: float = 9_000.0
    # beds
    film_per_day: float = 0.5
    sediment_per_day: float = 0.03
    bed_q10: float = 2.3
    labile_per_hour: float = 0.08
    nitrification_umol_l_h: float = 6.0  # of a full-grown filter at 15 degC
    denitrification_umol_m2_h: float = 250.0
    shell_m2: float = 0.0
    shell_coat_days: float = 60.0  # how fast film dulls it
    # rain
    catchment_m2: float = 30.0
    rain_alkalinity: float = 20.0
    rain_labile: float = 60.0

    @property
    def area_m2(self) -> float:
        """Surface, as if the walls stood upright."""
        return self.volume_litres / 1000.0 / self.depth_m

    @property
    def surface_litres(self) -> float:
        """Water above the step in temperature."""
        return self.volume_litres * self.surface_share

    @property
    def bottom_litres(self) -> float:
        """Water below it."""
        return self.volume_litres - self.surface_litres

    @property
    def surface_m(self) -> float:
        """Thickness of the upper layer."""
        return self.depth_m * self.surface_share
