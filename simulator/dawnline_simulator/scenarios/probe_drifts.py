"""probe-drifts: the pond is well, the electrode is not; from the third day it reads 0.08 lower each day.

Looked at alone it is a buffer running out. A reading in buffer solution tells the difference.
"""

from __future__ import annotations

from dawnline_simulator.faults import Drift
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(name="probe-drifts", days=12, faults=(Drift(3, "00:00", 216.0, -0.08),))
