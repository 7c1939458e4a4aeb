"""wire-breaks: water in a plug; in the second night the line carries garbage, then nothing until morning.

On the third day the adapter itself is pulled for an hour and comes back. The pond is well all along.
"""

from __future__ import annotations

from dawnline_simulator.faults import WireBreaks
from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(
    name="wire-breaks",
    days=4,
    faults=(
        WireBreaks(2, "01:10", 0.25, "garbage"),
        WireBreaks(2, "01:25", 4.0, "silent"),
        WireBreaks(3, "13:00", 1.0, "unplugged"),
    ),
)
