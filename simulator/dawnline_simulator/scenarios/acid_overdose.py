"""acid-overdose: on the fourth evening somebody lowers the pH with mineral acid, ten times too much.

Bicarbonate turns to CO2 at a stroke: the pH drops by two within half an hour, climbs as the CO2 leaves, and
stays low because the buffer is gone. The shell brings it back over weeks.
"""

from __future__ import annotations

from dawnline_simulator.happenings import Acid
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(name="acid-overdose", days=6, happenings=(Acid(4, "18:30", 0.3, 0.95),))
