"""Calm ponds, three weeks each: some change slowly, some by a step, some by the keeper's hand; none is in danger."""

from __future__ import annotations

from typing import Any

from case import Case, Readings
from story import Story, act, world_of
from world import DAY_MS, HOUR_MS, MINUTE_MS, roll

from dawnline.event import Act
from dawnline.water.units import dkh_from_meq_l

KINDS = ("plain", "ramp", "aeration", "changes", "shell")
DAYS = 21
SAFE = 6.7  # true pH that is never passed
STABLE_DAYS = 25  # the buffer lasts at least as long at the pace of these weeks


def tell(model: str, seed: int) -> Case | None:
    """The pond of a seed, or None where it is not calm."""
    kind = KINDS[seed % len(KINDS)]
    dice = roll(model, "calm", seed, "plan")
    world = world_of(model, seed, "calm", kind)
    events: list[Any] = []
    acts: list[Act] = []
    if kind == "aeration":
        at, times = world.begin + 10 * DAY_MS + 9 * HOUR_MS, dice.choice((0.6, 0.7, 1.4))
        events = [world.aeration(at, times)]
        if dice.random() < 0.5:  # the other half tells nobody
            acts = [act(1, at, "aeration", state="more" if times > 1.0 else "less")]
    if kind == "changes":
        source, share = dice.uniform(0.4, 2.5), dice.uniform(0.08, 0.2)
        for week in range(3):
            at = world.begin + (3 + 7 * week) * DAY_MS + 9 * HOUR_MS
            events.append(world.water_change(at, share, source))
            kh = round(dkh_from_meq_l(source), 1)
            acts.append(act(week, at, "water-change", share=round(share, 2), source_kh_dkh=kh))
    story = Story(world, world.begin)
    story.live(world.begin + DAYS * DAY_MS, events)
    if not (story.lowest(story.begin + DAY_MS, story.end) > SAFE and _lasts(story)):
        return None
    readings = Readings.of(story, f"calm/{seed}", dice.choice((MINUTE_MS, 5 * MINUTE_MS)))
    return Case(model, seed, kind, world.place, world.volume_litres, {"": readings}, {"": acts})


def _lasts(story: Story) -> bool:
    first, last = (story.world.alkalinity_meq_l(story.states[index]) for index in (2 * 720, -1))
    return last - STABLE_DAYS / (DAYS - 2) * max(first - last, 0.0) > 0.0
