"""Ponds whose buffer runs out slowly, until the dawn low passes 6.5."""

from __future__ import annotations

from datetime import date, timedelta
from math import ceil
from typing import NamedTuple

from case import Case, Readings
from story import Story, act, world_of
from sunlight import local_date, night_before
from world import DAY_MS, HOUR_MS, MINUTE_MS, STEP_MS, World

from dawnline.event import Act
from dawnline.water.units import dkh_from_meq_l

LIMIT = 6.5
FIRST_DAY, LAST_DAY = 12, 38  # of the story: earlier there is nothing to learn from
INTERVAL_MS = 5 * MINUTE_MS
CHECK_DAYS = 5
KH_DAYS_OUT = (13, 9, 5)  # three tests, the last on the morning of the forecast five days out
VARIANTS = ("alone", "check", "kh-1", "kh-0.25")


class Truth(NamedTuple):
    """One dawn: its date, and the true dawn low [pH] with the alkalinity [meq/L] at its time."""

    on: date
    at: int
    low: float
    alkalinity: float


def tell(model: str, seed: int) -> Case | None:
    """The pond of a seed, or None where its dawn low does not pass 6.5 in time."""
    world = world_of(model, seed, "buffer", "")
    story = Story(world, world.begin)
    on = local_date(world.begin, world.place) + timedelta(days=2)
    truth: list[Truth] = []
    while True:
        night = night_before(on, world.place)
        story.live(night.over + 2 * HOUR_MS, [])
        days = (night.over - world.begin) / DAY_MS
        truth.append(_dawn(story, on))
        if truth[-1].low < LIMIT:
            break
        if days > LAST_DAY:
            return None
        on += timedelta(days=1)
    if days < FIRST_DAY:
        return None
    readings, acts = {}, {}
    for variant in VARIANTS:
        checks = _checks(world, story) if variant == "check" else ()
        readings[variant] = Readings.of(story, f"buffer/{seed}", INTERVAL_MS, checks)
        acts[variant] = [act(n, at, "calibration", probe="ph", **{"for": "10m"}) for n, at in enumerate(checks)]
        if variant.startswith("kh"):
            acts[variant] = _kh_tests(story, on, float(variant.partition("-")[2]))
    return Case(model, seed, "buffer", world.place, world.volume_litres, readings, acts, {"day": on, "nights": truth})


def _dawn(story: Story, on: date) -> Truth:
    night = night_before(on, story.place)
    first, last = ((at - story.begin) // STEP_MS for at in (night.midnight, night.over))
    lowest = min(range(first, last), key=story.ph.__getitem__)
    alkalinity = story.world.alkalinity_meq_l(story.states[lowest])
    return Truth(on, story.begin + lowest * STEP_MS, story.ph[lowest], alkalinity)


def _checks(world: World, story: Story) -> tuple[int, ...]:
    """Times in buffer solution: every fifth day at nine, UTC; the probe is set right ten minutes later."""
    return tuple(range(world.begin + 3 * DAY_MS + 9 * HOUR_MS, story.end, CHECK_DAYS * DAY_MS))


def _kh_tests(story: Story, on: date, resolution: float) -> list[Act]:
    """A drop test read to n means between n less its resolution and n."""
    tests = []
    for out in KH_DAYS_OUT:
        at = night_before(on - timedelta(days=out), story.place).sunrise + 2 * HOUR_MS
        if at > story.begin:
            state = story.states[(at - story.begin) // STEP_MS]
            kh = dkh_from_meq_l(max(story.world.alkalinity_meq_l(state), 0.0))
            tests.append(act(out, at, "hand-test", kh_dkh=ceil(kh / resolution) * resolution))
    return tests
