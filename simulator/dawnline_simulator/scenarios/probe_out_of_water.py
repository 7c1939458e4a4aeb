"""probe-out-of-water: on the second afternoon the probes are lifted out for cleaning, half an hour.

In the fourth night they slip from their holder and hang in the air for three hours. pH jumps at once and
walks about, temperature goes to that of the air. The pond itself has a quiet week.
"""

from __future__ import annotations

from dawnline_simulator.faults import OutOfWater
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(
    name="probe-out-of-water",
    days=5,
    faults=(OutOfWater(2, "14:10", 0.5), OutOfWater(4, "02:20", 3.0)),
)
