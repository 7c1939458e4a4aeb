"""quiet-week: seven ordinary days in June; the shell keeps pace with the filter and the buffer stays.

Nothing happens, and nobody should be told anything.
"""

from __future__ import annotations

from dawnline_simulator.scenario import Scenario

SCENARIO = Scenario(name="quiet-week", days=7)
