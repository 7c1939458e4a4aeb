"""Abnormal nights: a week or more of ordinary life, then something happens and the true pH passes 6.5."""

from __future__ import annotations

from array import array
from random import Random
from typing import Any

from case import Case, Readings
from night_bound import BEFORE_MS
from story import Story, world_of
from world import DAY_MS, HOUR_MS, MINUTE_MS, STEP_MS, Place, roll

KINDS = ("air-stops", "cloudburst", "acid", "die-off", "bloom", "air-stops", "cloudburst", "die-off")
LIMIT = 6.5
WITHIN_MS = 24 * HOUR_MS
SIZES = (1.0, 1.6, 2.5)
TRIES = 5  # of the buffer: more where pH is low before, less where nothing comes of it
# Solar hours at which it begins; more than 24 is after midnight.
BEGINS = {"air-stops": (19, 26), "cloudburst": (17, 25), "acid": (8, 26), "die-off": (13, 19), "bloom": (13, 19)}


def tell(model: str, seed: int) -> Case | None:
    """The pond of a seed, its buffer such that the pH is safe before and passes 6.5 within a day; None if none is."""
    kind = KINDS[seed % len(KINDS)]
    dice = roll(model, "nights", seed, "plan")
    world = world_of(model, seed, "nights", kind)
    onset = _onset(dice, world.begin, kind, world.place)
    interval = dice.choice((MINUTE_MS, 5 * MINUTE_MS))
    more, less = 1.35, 0.75
    for _ in range(TRIES):
        story = Story(world, world.begin)
        story.live(onset, world.disaster(kind, onset, 1.0))
        if story.lowest(world.begin + 2 * DAY_MS, onset) < LIMIT + 0.1:
            world.alkalinity *= more
            less = 0.9
            continue
        tale = _befall(story, kind, onset)
        if tale is not None:
            return _case(tale, model, seed, kind, interval)
        world.alkalinity *= less
        more = 1.15
    return None


def _befall(story: Story, kind: str, onset: int) -> Story | None:
    """The story with the mildest size of disaster by which it passes 6.5."""
    for size in SIZES:
        tale = story.cut(onset)
        tale.live(onset + WITHIN_MS, story.world.disaster(kind, onset, size))
        if tale.passes(LIMIT, onset) is not None:
            return tale
    return None


def _case(tale: Story, model: str, seed: int, kind: str, interval: int) -> Case:
    onset = tale.end - WITHIN_MS
    passes = tale.passes(LIMIT, onset)
    assert passes is not None
    dusk = max(tale.ph[(onset - 3 * DAY_MS - tale.begin) // STEP_MS : (onset - tale.begin) // STEP_MS])
    told = tale.cut(min(passes + 2 * HOUR_MS, tale.end))
    readings = {"": Readings.of(told, f"nights/{seed}", interval)}
    truth = {"onset": onset, "passes": passes, "dusk": dusk} | _courses(tale, kind, seed, onset, interval)
    world = tale.world
    return Case(model, seed, kind, world.place, world.volume_litres, readings, truth=truth)


def _courses(tale: Story, kind: str, seed: int, onset: int, interval: int) -> dict[str, Any]:
    """The pH from three hours before on: true, had nothing befallen, and as the probe shows it."""
    calm = tale.cut(onset)
    calm.live(tale.end, tale.world.disaster(kind, onset, 1.0)[:1] if kind == "bloom" else [])
    times = range(tale.begin, tale.end, interval)
    first = next(n for n, at in enumerate(times) if at >= onset - BEFORE_MS)
    true, without = (
        array("d", (story.ph[(at - tale.begin) // STEP_MS] for at in times[first:])) for story in (tale, calm)
    )
    shown = Readings.of(tale, f"nights/{seed}", interval).ph[first:]
    return {"begin": tale.begin, "step": interval, "true": true, "calm": without, "shown": shown}


def _onset(dice: Random, begin: int, kind: str, place: Place) -> int:
    solar_midnight = begin - round(place.longitude / 15.0 * HOUR_MS)
    at = solar_midnight + dice.randrange(8, 12) * DAY_MS + round(dice.uniform(*BEGINS[kind]) * 60) * MINUTE_MS
    return at - at % (2 * MINUTE_MS)
