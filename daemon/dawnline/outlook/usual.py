"""What is usual at an hour of the sun: what earlier days did at the same solar phase and its neighbours.

Medians and robust scales (1.4826 MAD) of the falls over each window, of what they gained in inorganic carbon, and of
the level; where the days sink one below the other, where this course leads. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from statistics import median
from typing import Final, NamedTuple, TypeAlias

from dawnline.outlook.carbon import carbon_of
from dawnline.outlook.sun import PHASES

Profile: TypeAlias = Mapping[str, list[tuple[float, ...]]]
"""Solar phase -> a day each, the newest last: falls, and in the last place the level [pH]."""

MAD_TO_SD: Final = 1.4826
LEAST_DAYS: Final = 3
BELOW_USUAL: Final = 0.1  # pH below the usual level at this phase
LEADS: Final = 5  # days that show whether the level sinks


class Usual(NamedTuple):
    """What earlier days did at one solar phase: median and scale of falls and of what they gained, the level."""

    falls: tuple[float, ...]
    scales: tuple[float, ...]
    gains: tuple[float, ...]  # inorganic carbon per alkalinity, over each window
    gain_scales: tuple[float, ...]
    level: float
    ordinary: float  # the lowest level [pH] that is nothing unusual
    rise: float  # the largest within a quarter of an hour, at these hours
    rises: tuple[float, ...]  # the largest over each window, at any hour


def learned(profile: Profile, phase: int) -> Usual | None:
    """What the days of `profile` did at `phase`: of each a fall a window, and the level [pH]; None with too few."""
    own = profile.get(str(phase), [])
    if len(own) < LEAST_DAYS:
        return None
    around = [day for step in (-1, 0, 1) for day in profile.get(str((phase + step) % PHASES), [])]
    windows = range(len(own[0]) - 1)
    falls, fall_scales = zip(*(_middle_and_scale([p[i] for p in around]) for i in windows), strict=True)
    gains, gain_scales = zip(*(_middle_and_scale([gain(p[-1], p[i]) for p in around]) for i in windows), strict=True)
    level, level_scale = _middle_and_scale([p[-1] for p in around])
    ordinary = min(level - max(BELOW_USUAL, level_scale), _leads_to([p[-1] for p in own[-LEADS:]]) - BELOW_USUAL)
    rises = tuple(-min(day[i] for days in profile.values() for day in days) for i in windows)
    return Usual(falls, fall_scales, gains, gain_scales, level, ordinary, -min(p[0] for p in around), rises)


def gain(value: float, fall: float) -> float:
    """What a fall by `fall` to `value` [pH] brought in inorganic carbon per alkalinity."""
    return carbon_of(value) - carbon_of(value + fall)


def _leads_to(levels: list[float]) -> float:
    """Where the levels of these days, the newest last, lead to today; a rise is not counted on."""
    sinks = min(0.0, median(after - before for before, after in pairwise(levels)))
    return median(levels[-3:]) + 2 * sinks


def _middle_and_scale(values: list[float]) -> tuple[float, float]:
    ranked = sorted(values)
    middle = ranked[len(ranked) // 2]
    away = sorted(abs(v - middle) for v in ranked)
    return middle, MAD_TO_SD * away[len(away) // 2]
