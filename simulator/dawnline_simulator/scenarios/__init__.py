"""Each story in a file of its own; here they are found by name."""

from __future__ import annotations

from dawnline_simulator.scenario import Scenario
from dawnline_simulator.scenarios import (
    acid_overdose,
    air_stops,
    algae_bloom,
    buffer_runs_out,
    cloudburst,
    probe_drifts,
    probe_out_of_water,
    quiet_week,
    wire_breaks,
)

_STORIES = (
    quiet_week,
    buffer_runs_out,
    cloudburst,
    air_stops,
    acid_overdose,
    algae_bloom,
    probe_drifts,
    probe_out_of_water,
    wire_breaks,
)
SCENARIOS: dict[str, Scenario] = {story.SCENARIO.name: story.SCENARIO for story in _STORIES}
