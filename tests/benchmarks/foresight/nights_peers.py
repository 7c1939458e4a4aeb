"""Each peer of the abnormal nights at its best: at no more early wakes than the watch, and where it warns of as many.

A setting is chosen by most nights warned, then the longest median lead, among those whose early wakes stay within the
watch's own. The ones chosen on the development seeds are frozen in `CHOSEN`; beside them stands the one that would have
been best on the very nights reported, which nobody can know beforehand.
"""

from __future__ import annotations

from statistics import median
from typing import Any, NamedTuple

import peers
from figures import middle, quantile, share, table

# On 135 easy and 39 hard nights of the seeds 1 on, where the watch woke early 2 times and not at all. Where no setting
# wakes so seldom, the one that wakes least.
CHOSEN = {
    "easy": {"limit": "limit 6.54", "rate": "rate 1 in 1 h", "Page-Hinkley": "Page-Hinkley 0.2, 160"},
    "hard": {"limit": "limit 6.56", "rate": "rate 1.4 in 1 h", "Page-Hinkley": "Page-Hinkley 0.2, 160"},
}


class Outcome(NamedTuple):
    """One setting over all nights: nights warned, leads [h] with 0 for a night without, early wakes."""

    setting: str
    warned: int
    leads: tuple[float, ...]
    early: int


def outcomes(found: list[dict[str, Any]], family: str) -> list[Outcome]:
    """Of every setting of a family."""
    out = []
    for setting in [name for name in found[0]["peers"] if name.startswith(family)]:
        leads, early = zip(*(row["peers"][setting] for row in found), strict=True)
        warned = sum(lead is not None for lead in leads)
        out.append(Outcome(setting, warned, tuple(lead or 0.0 for lead in leads), sum(early)))
    return out


def best(settings: list[Outcome], early: int) -> Outcome | None:
    """The best of those with no more than so many early wakes."""
    within = [each for each in settings if each.early <= early]
    return max(within, key=lambda each: (each.warned, median(each.leads), -each.early), default=None)


def as_many(settings: list[Outcome], warned: int) -> Outcome | None:
    """The one with the fewest early wakes of those that warn of at least so many nights."""
    enough = [each for each in settings if each.warned >= warned]
    return min(enough, key=lambda each: each.early, default=None)


def line(who: str, each: Outcome) -> tuple[str, ...]:
    """A row of the table of nights."""
    count, long = len(each.leads), sum(lead >= 3.0 for lead in each.leads)
    tenth = f"{quantile(each.leads, 0.1):.1f}"
    return who, share(each.warned, count), middle(each.leads), tenth, share(long, count), str(each.early)


def report(found: list[dict[str, Any]], model: str, warned: int, early: int) -> str:
    """The table: each family as chosen, at its best after the fact, and where it warns of as many as the watch."""
    rows = []
    for family in peers.FAMILIES:
        settings = outcomes(found, family)
        if not settings:
            continue
        chosen = next((each for each in settings if each.setting == CHOSEN[model].get(family)), None)
        for what, each in (
            ("chosen on development seeds", chosen),
            (f"best here with {early} early wakes at most", best(settings, early)),
            (f"fewest early wakes with {warned} nights warned", as_many(settings, warned)),
        ):
            cells = line(each.setting, each)[1:] if each else ("-",) * 5
            rows.append((family, what, each.setting if each else "none", *cells))
    heads = ("", "which setting", "setting", "warned before 6.5", "median lead, h", "10th percentile")
    return table((*heads, "nights with 3 h of lead", "early wakes"), rows)
