"""cloudburst: soft water, a fair buffer, and on the fourth evening more rain in an hour than in a month.

Roof and slope drain into the pond. A third of its water is rain within the hour, and what was washed in rots
overnight. The pH falls below 6.5 in the small hours. Nothing is wrong with the probe or the filter.
"""

from __future__ import annotations

from dawnline_simulator.happenings import Overcast, Rain
from dawnline_simulator.pond import PondParameters
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(
    name="cloudburst",
    days=6,
    alkalinity_meq_l=0.38,
    calcium_mmol_l=0.25,
    pond=PondParameters(shell_m2=3.2, catchment_m2=90.0, rain_alkalinity_meq_l=-0.08),
    happenings=(
        Overcast(4, "18:00", 18.0, 0.95),
        Rain(4, "21:00", 1.5, 55.0, labile_umol_l=1400.0),
    ),
)
