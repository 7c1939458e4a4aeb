"""buffer-runs-out: ten calm days, a buffer nearly spent, a warm night with rain.

The shell in the chamber is coated and gives next to nothing; each day the filter takes a little of the soft
water's alkalinity. The dawns sink slowly and the days look fine. The tenth evening is close and still. Toward
eleven a thunderstorm empties the roof and the slope above into the pond, and rain goes on until dawn: water
without any buffer, sour from spruce litter, and full of what lay in the gutters. Some hours after midnight
the pH is through 6.5 and on its way to 6.
"""

from __future__ import annotations

from dawnline_simulator.happenings import Overcast, Rain, Warmth
from dawnline_simulator.pond import PondParameters
from dawnline_simulator.scenario import Scenario
from dawnline_simulator.weather import Climate

SCENARIO = Scenario(
    name="buffer-runs-out",
    days=11,
    alkalinity_meq_l=0.56,
    calcium_mmol_l=0.35,
    pond=PondParameters(
        respiration_umol_l_h=7.0,
        feed_g_day=220.0,
        shell_m2=0.2,
        catchment_m2=90.0,
        rain_alkalinity_meq_l=-0.08,
    ),
    climate=Climate(air_mean_c=14.5, air_scatter_c=0.7, cloud_scatter=0.12, cloud_mean=0.3),
    happenings=(
        Warmth(10, "14:00", 24.0, 7.0),
        Overcast(10, "20:00", 16.0, 0.95),
        Rain(10, "23:00", 1.5, 20.0, labile_umol_l=1000.0),
        Rain(11, "00:30", 6.0, 57.0, labile_umol_l=1100.0),
    ),
)
