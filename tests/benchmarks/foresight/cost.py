"""What it costs: microseconds per reading, and bytes of saved state."""

from __future__ import annotations

import json
import time

from case import Readings
from story import Story, world_of
from watching import pipeline_of
from world import DAY_MS, World

from dawnline.reading import Sample

DAYS = 7
INTERVAL_MS = 10_000  # as in the benchmark of replay


def report(seed: int, rounds: int) -> str:
    """A week of one calm pond, its pH judged as pH and, for comparison, as a quantity that is only checked."""
    world = world_of("easy", seed, "calm", "plain")
    story = Story(world, world.begin)
    story.live(world.begin + DAYS * DAY_MS, [])
    samples = Readings.of(story, f"cost/{seed}", INTERVAL_MS).samples()
    whole, state = _fold(world, samples, "ph", rounds)
    bare, _ = _fold(world, samples, "dissolved_oxygen", rounds)
    return (
        f"{len(samples)} readings of pH and temperature in {DAYS} days: {whole:.1f} us per reading; the same values\n"
        f"as a quantity that is only checked: {bare:.1f} us; what pH adds: {whole - bare:.1f} us per reading.\n"
        f"Saved state after {DAYS} days: {state} bytes of JSON."
    )


def _fold(world: World, samples: list[Sample], quantity: str, rounds: int) -> tuple[float, int]:
    """Microseconds per reading in the shortest of some rounds, and the size of the state."""
    times, state = [], 0
    for _ in range(rounds):
        pipeline = pipeline_of(world.place, world.volume_litres, quantity)
        begun = time.perf_counter()
        for sample in samples:
            pipeline.step(sample)
        times.append(time.perf_counter() - begun)
        state = len(json.dumps(pipeline.save()))
    return min(times) / len(samples) * 1e6, state
