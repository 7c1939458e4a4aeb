"""air-stops: a full pond on a lean buffer, and on the fourth evening the only air pump's membrane tears.

CO2 that the bubbles used to carry off stays in the water. By dawn the pH is below 6.5, and where pH is the
messenger oxygen is the news. The keeper mends the pump before noon.
"""

from __future__ import annotations

from dawnline_simulator.happenings import AirStops
from dawnline_simulator.pond import PondParameters
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(
    name="air-stops",
    days=6,
    alkalinity_meq_l=0.29,
    calcium_mmol_l=0.25,
    pond=PondParameters(respiration_umol_l_h=16.0, exchange_per_hour=0.015, aeration_per_hour=0.14, shell_m2=2.7),
    happenings=(AirStops(4, "20:00", 15.5),),
)
