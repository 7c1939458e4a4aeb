"""algae-bloom: from the second day floating algae multiply within five days, and stay.

More carbon is taken by day and given back by night: the dusks climb past 9, the dawns sink a little, the
swing grows past one pH a day while the buffer stays what it was.
"""

from __future__ import annotations

from dawnline_simulator.happenings import Bloom
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(name="algae-bloom", days=10, happenings=(Bloom(2, "00:00", 120.0, 5.0),))
