"""Abnormal nights: a week or more of ordinary life, then something happens and the true pH passes 6.5."""

from __future__ import annotations

from random import Random

from case import Case, Readings
from story import Story, world_of
from world import DAY_MS, HOUR_MS, MINUTE_MS, Place, roll

KINDS = ("air-stops", "cloudburst", "acid", "die-off", "bloom")
LIMIT = 6.5
WITHIN_MS = 24 * HOUR_MS
SIZES = (1.0, 1.6, 2.5, 4.0)
# Solar hours at which it begins; more than 24 is after midnight.
BEGINS = {"air-stops": (19, 26), "cloudburst": (17, 25), "acid": (8, 26), "die-off": (13, 19), "bloom": (13, 19)}


def tell(model: str, seed: int) -> Case | None:
    """The pond of a seed, or None where its pH was low before or does not pass 6.5 within a day whatever befalls it."""
    kind = KINDS[seed % len(KINDS)]
    dice = roll(model, "nights", seed, "plan")
    world = world_of(model, seed, "nights", kind)
    onset = _onset(dice, world.begin, kind, world.place)
    story = Story(world, world.begin)
    story.live(onset, world.disaster(kind, onset, 1.0))
    if story.lowest(world.begin + 2 * DAY_MS, onset) < LIMIT + 0.1:
        return None
    before = max(story.ph[-3 * 720 :])
    for size in SIZES:
        tale = story.cut(onset)
        tale.live(onset + WITHIN_MS, world.disaster(kind, onset, size))
        passes = tale.passes(LIMIT, onset)
        if passes is not None:
            tale = tale.cut(min(passes + 2 * HOUR_MS, tale.end))
            interval = dice.choice((MINUTE_MS, 5 * MINUTE_MS))
            readings = Readings.of(tale, f"nights/{seed}", interval)
            truth = {"onset": onset, "passes": passes, "size": size, "dusk": before}
            return Case(model, seed, kind, world.place, world.volume_litres, {"": readings}, truth=truth)
    return None


def _onset(dice: Random, begin: int, kind: str, place: Place) -> int:
    solar_midnight = begin - round(place.longitude / 15.0 * HOUR_MS)
    at = solar_midnight + dice.randrange(8, 12) * DAY_MS + round(dice.uniform(*BEGINS[kind]) * 60) * MINUTE_MS
    return at - at % (2 * MINUTE_MS)
