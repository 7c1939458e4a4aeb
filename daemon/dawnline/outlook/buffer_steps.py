"""Steps and odd nights that the dawn lows show by themselves.

A torn diaphragm, a new pump or more fish move the level and leave the days left as they are; one muggy night moves
nothing. A night that surprises is taken for either, where that explains the record much better than chance.
"""

from __future__ import annotations

from typing import Final

from dawnline.outlook.buffer_course import trace
from dawnline.outlook.buffer_diary import Diary, Oddity
from dawnline.outlook.buffer_odds import Odds
from dawnline.outlook.level import Level

MOST: Final = 3
SURPRISE: Final = 4.0  # standard deviations of a pond that is calm; the best fit may take a step for noise
CALM: Final = 0.02  # pH, its nightly noise
WORTH: Final = 4.0  # log of how much likelier the record must become: such nights come once in two months, at a guess
SIZE_SD: Final = 0.25  # pH


def judged(diary: Diary) -> tuple[Odds, list[Oddity]]:
    """The odds of the record, with the steps and odd nights found in it."""
    found: dict[int, Oddity] = {}
    odds = Odds(diary.record(found))
    for _ in range(MOST):
        at = _surprising(diary, odds)
        if at is None or at in found:
            break
        last = at == diary.nights[-1][0]  # a step cannot yet be told from an odd night
        tries = [Oddity(at, stepped, SIZE_SD) for stepped in ((False,) if last else (False, True))]
        tried = [(Odds(diary.record({**found, at: odd})), odd) for odd in tries]
        better, odd = max(tried, key=lambda pair: pair[0].evidence)
        if better.evidence < odds.evidence + WORTH:
            break
        odds, found[at] = better, odd
    return odds, sorted(found.values())


def _surprising(diary: Diary, odds: Odds) -> int | None:
    """The time of the night that surprises most at the best course, where it surprises enough."""
    if not odds.likely:
        return None
    best, record = odds.best, odds.record
    traced = trace(best.course, record.course_marks, best.present)
    assert traced is not None  # it was tried
    residuals = [low - share for low, share in zip(record.lows, reversed(traced[0]), strict=True)]
    surprises = Level(record.level_marks, CALM).surprises(residuals)
    # A step is felt at its night and forgotten after it, an odd night at its own and the one after: the first stands.
    size, index = max(((abs(each), -n) for n, each in enumerate(surprises) if n > 0), default=(0.0, 0))
    return diary.nights[-index][0] if size > SURPRISE else None
