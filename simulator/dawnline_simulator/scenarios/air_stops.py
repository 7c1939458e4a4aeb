"""air-stops: a full pond on a lean buffer, and on the fourth evening the only air pump's membrane tears.

CO2 that the bubbles used to carry off stays in the water: gas exchange falls to a fifteenth, CO2 grows
fourfold, and in the small hours the pH is below 6.5, four tenths under an ordinary dawn. Where pH is the
messenger oxygen is the news. The keeper mends the pump before noon.

Sizes: 22 umol/(L h) in 14 m3 is 10 g of oxygen an hour, what some 40 kg of koi and their filter use at 20 degC
(carp at rest 0.15 to 0.2 g/(kg h), the filter about half as much again: from memory). 0.24 of the CO2 an hour is
what 60 to 80 L of air a minute take along: a litre of air in balance holds about as much as a litre of water, so
60 L/min can take 0.26 at most (Henry's law). What is left is the bare surface and a breath of wind.
"""

from __future__ import annotations

from dawnline_simulator.happenings import AirStops
from dawnline_simulator.pond import PondParameters
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(
    name="air-stops",
    days=6,
    alkalinity_meq_l=0.26,
    calcium_mmol_l=0.25,
    pond=PondParameters(respiration_umol_l_h=22.0, exchange_per_hour=0.015, aeration_per_hour=0.24, shell_m2=3.4),
    happenings=(AirStops(4, "20:00", 15.5),),
)
