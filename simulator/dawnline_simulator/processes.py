"""What goes on in the pond at one moment: one function a process, per litre and hour."""

from __future__ import annotations

from dawnline.water.calcite import saturation_ratio
from dawnline.water.constants import ZERO_CELSIUS_K, henry
from dawnline_simulator.pond import Forcing, PondParameters, PondState, Rates, constants

HOURS_A_DAY = 24.0


def rates(state: PondState, forcing: Forcing, parameters: PondParameters) -> Rates:
    """All rates for this state under this forcing."""
    inflow = forcing.rain_mm_h * (parameters.surface_m2 + parameters.catchment_m2) / parameters.volume_litres
    speed = parameters.q10 ** ((state.temperature_c - 20.0) / 10.0)
    rain_warmth = inflow * (forcing.air_c - state.temperature_c)
    return Rates(
        photosynthesis=photosynthesis(state, forcing, parameters),
        respiration=speed * (parameters.respiration_umol_l_h + forcing.algae * parameters.algae_respiration_umol_l_h),
        decay=speed * parameters.labile_per_hour * state.labile_umol_l,
        exchange=exchange(state, forcing, parameters),
        excretion=excretion(parameters),
        nitrification=nitrification(state, parameters),
        dissolution=dissolution(state, parameters),
        inflow=inflow,
        inflow_labile=forcing.rain_labile_umol_l,
        acid=forcing.acid_meq_l_h,
        warming=(forcing.air_c - state.temperature_c) / parameters.heat_hours
        + parameters.sun_c_per_hour * forcing.light_w_m2
        + rain_warmth,
    )


def photosynthesis(state: PondState, forcing: Forcing, parameters: PondParameters) -> float:
    """Carbon taken up by algae [umol/(L h)]: saturating in light and in carbon (Monod), CO2 before
    HCO3-.
    """
    light = forcing.light_w_m2 / (forcing.light_w_m2 + parameters.light_half_w_m2)
    carbon = state.co2_umol_l + parameters.bicarbonate_use * (state.dic_umol_l - state.co2_umol_l)
    most = forcing.algae * parameters.photosynthesis_umol_l_h
    return most * light * carbon / (carbon + parameters.carbon_half_umol_l)


def exchange(state: PondState, forcing: Forcing, parameters: PondParameters) -> float:
    """CO2 from the air [umol/(L h)], negative when the pond breathes out.

    First order in the distance from balance; 2.41 % a degree: Downing and Truesdale (1955), for oxygen,
    from memory.
    """
    velocity = (
        parameters.exchange_per_hour
        + forcing.aeration * parameters.aeration_per_hour
        + parameters.wind_per_hour * forcing.wind_m_s**2
    )
    celsius = min(max(state.temperature_c, 0.0), 50.0)
    balance = henry(celsius) * parameters.air_co2_uatm  # mol/(L atm) times uatm is umol/L
    return float(velocity * 1.0241 ** (celsius - 20.0) * (balance - state.co2_umol_l))


def excretion(parameters: PondParameters) -> float:
    """Ammonia the fish give off [mg N/(L h)]: feed x protein x 0.092 (Timmons and Ebeling, from memory),
    all day.
    """
    daily_mg = parameters.feed_g_day * 1000.0 * parameters.feed_protein * 0.092
    return daily_mg / parameters.volume_litres / HOURS_A_DAY


def nitrification(state: PondState, parameters: PondParameters) -> float:
    """Ammonia the filter turns to nitrate [mg N/(L h)].

    Monod in ammonia; 7 % a degree; half speed at pH 6.4 and under 0.01 meq/L of alkalinity: common
    practice says that it slows below about pH 6.8 and stops in acid water; the curve is ours.
    """
    if state.alkalinity_meq_l <= 0.0:
        return 0.0
    warmth = 1.07 ** (state.temperature_c - 20.0)
    acidity = 1.0 / (1.0 + 10.0 ** (6.4 - state.ph))
    buffer = state.alkalinity_meq_l / (state.alkalinity_meq_l + 0.01)
    ammonia = state.ammonia_mg_l / (state.ammonia_mg_l + parameters.ammonia_half_mg_l)
    return float(parameters.nitrification_mg_l_day / HOURS_A_DAY * warmth * acidity * buffer * ammonia)


def dissolution(state: PondState, parameters: PondParameters) -> float:
    """Shell dissolved [umol CaCO3/(L h)].

    Forward rate k1 [H+] + k2 [CO2] + k3 after Plummer, Wigley and Parkhurst (1978), Am. J. Sci. 278, 179
    (from memory), times how far the water is from saturation; none is laid down.
    """
    if parameters.shell_m2 <= 0.0 or state.calcium_mmol_l < 0.0:
        return 0.0
    celsius = min(max(state.temperature_c, 0.0), 50.0)
    kelvin = celsius + ZERO_CELSIUS_K
    hydrogen, co2 = 10.0**-state.ph, state.co2_umol_l * 1e-6
    k = constants(state.calcium_mmol_l, celsius)
    saturation = saturation_ratio(state.calcium_mmol_l * 1e-3, co2, hydrogen, k, celsius)
    if saturation >= 1.0:
        return 0.0
    forward = (
        10.0 ** (0.198 - 444.0 / kelvin) * hydrogen
        + 10.0 ** (2.84 - 2177.0 / kelvin) * co2
        + 10.0 ** (-5.86 - 317.0 / kelvin)
    )  # mmol/(cm2 s)
    umol_per_hour = forward * 1000.0 * 3600.0 * parameters.shell_m2 * 1e4
    return float(umol_per_hour / parameters.volume_litres * (1.0 - saturation))
