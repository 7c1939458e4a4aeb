"""What it costs: microseconds per reading, and bytes of saved state."""

from __future__ import annotations

import json
import time

import calm_told
from case import Case
from watching import pipeline_of

ROUNDS = 3


def report(seed: int) -> str:
    """On the first calm pond of the ordinary simulator, its pH judged as pH and, for comparison, as bare oxygen."""
    case, tried = None, seed
    while case is None:
        case, tried = calm_told.tell("easy", tried), tried + 1
    whole, state = _fold(case, "ph")
    bare, _ = _fold(case, "dissolved_oxygen")
    days = calm_told.DAYS
    return (
        f"{len(case.readings[''].ph)} readings of pH and as many of temperature, {days} days: "
        f"{whole:.1f} us per reading;\n"
        f"the same values as a quantity that is only checked and stored: {bare:.1f} us; "
        f"what pH adds: {whole - bare:.1f} us.\n"
        f"Saved state after {days} days: {state} bytes of JSON."
    )


def _fold(case: Case, quantity: str) -> tuple[float, int]:
    """The shortest of some rounds."""
    samples, times, state = case.readings[""].samples(), [], 0
    for _ in range(ROUNDS):
        pipeline = pipeline_of(case.place, case.volume_litres, quantity)
        begun = time.perf_counter()
        for sample in samples:
            pipeline.step(sample)
        times.append(time.perf_counter() - begun)
        state = len(json.dumps(pipeline.save()))
    return min(times) / len(samples) * 1e6, state
