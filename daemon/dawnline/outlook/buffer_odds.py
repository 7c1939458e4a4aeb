"""How likely each course of the buffer is, and on which day the dawn low would pass the limit.

A grid of courses, of the size of the nightly noise and, where it matters, of the alkalinity itself; everything else
is integrated out by level.py. No course is chosen: the day is read off all of them, each by its weight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, inf, log, log10
from typing import Final, NamedTuple

from dawnline.outlook import buffer_course, hardness, level
from dawnline.outlook.buffer_course import Course, zeal
from dawnline.outlook.hardness import normal
from dawnline.outlook.level import Fit, Level

HORIZON_DAYS: Final = 30
NOISES: Final = (0.01, 0.02, 0.05)  # pH, night to night
_SHORTEST, _LONGEST, _RATIO = 1.5, 400.0, 1.12
_RISING: Final = (-15.0, -30.0, -60.0, -120.0, -300.0)
_FLOORS: Final = (0.4, 0.75)
# Feed makes near 5 mol of CO2 for 1 eq of alkalinity that it takes in the end, and air renews a pond's CO2 about twice
# a day; so where feed decides both, some nine days are left at pH 7, ten times as many a whole pH higher. A factor of
# two either way. Our reckoning; a third more foretells as well on simulated ponds.
LIFE_AT_PH_7: Final = 9.0
LIFE_SPREAD: Final = 0.8
PRIOR_FALLING, PRIOR_STILL, PRIOR_RISING, PRIOR_BENDING = 0.6, 0.2, 0.1, 0.01
GAP: Final = 0.2  # from one alkalinity tried to the next, as a share, where acts are known in meq/L
SCALES: Final = tuple(0.04 * (1.0 + GAP) ** n for n in range(28))  # meq/L, 0.04 to 5.5
_NODES: Final = ((-2.857, 0.01126), (-1.3556, 0.22208), (0.0, 0.53333), (1.3556, 0.22208), (2.857, 0.01126))
_NEGLIGIBLE: Final = 1e-3


def _grid() -> list[tuple[Course, float]]:
    """Every course that is tried, with its prior weight."""
    lives = []
    life = _SHORTEST
    while life < _LONGEST:
        lives.append(life)
        life *= _RATIO
    rows = [(Course(life), PRIOR_FALLING / len(lives)) for life in lives]
    rows += [(Course(inf), PRIOR_STILL)]
    rows += [(Course(life), PRIOR_RISING / len(_RISING)) for life in _RISING]
    bends = [(life, floor) for life in lives[::2] for floor in _FLOORS]
    return rows + [(Course(life, floor), PRIOR_BENDING / len(bends)) for life, floor in bends]


GRID: Final = tuple(_grid())


@dataclass(slots=True)
class Record:
    """What is known, as the two rooms of the model want it.

    `lows` are the dawn lows [pH] in order of time and `level_marks` their record; `course_marks` run backward. `tests`
    are the bounds [meq/L] between which KH lay, backward in time.
    """

    lows: list[float] = field(default_factory=list)
    level_marks: list[level.Mark] = field(default_factory=list)
    course_marks: list[buffer_course.Mark] = field(default_factory=list)
    tests: list[tuple[float, float]] = field(default_factory=list)


class Likely(NamedTuple):
    """One course at one noise and one alkalinity, with its share of all likelihood."""

    weight: float
    course: Course
    noise: float
    present: float
    fit: Fit
    level_sd: float


class Odds:
    """The posterior over courses."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.evidence = -inf  # log of the marginal likelihood
        self.likely = self._weigh([Level(record.level_marks, noise) for noise in NOISES])

    def _weigh(self, levels: Sequence[Level]) -> list[Likely]:
        """Every course by its likelihood; where acts are known in meq/L, at every alkalinity."""
        scaled = buffer_course.needs_scale(self.record.course_marks)
        rows: list[tuple[float, Likely]] = []
        for course, prior in GRID:
            for tried in SCALES if scaled else (1.0,):
                traced = buffer_course.trace(course, self.record.course_marks, tried)
                if traced is None:
                    continue
                present, score = tried, log(prior)
                if self.record.tests and scaled:
                    pairs = zip(traced[1], self.record.tests, strict=True)
                    score += sum(hardness.agreement(share * tried, test, GAP) for share, test in pairs)
                elif self.record.tests:
                    agreed, present = hardness.present_by_tests(traced[1], self.record.tests)
                    score += agreed
                rows += self._fitted(course, present, score, traced[0], levels)
        return self._normalised(rows)

    def _fitted(
        self, course: Course, present: float, score: float, nights: list[float], levels: Sequence[Level]
    ) -> list[tuple[float, Likely]]:
        """One course at every size of the noise, with the log of its likelihood; `nights` run backward."""
        residuals = [low - share for low, share in zip(self.record.lows, reversed(nights), strict=True)]
        fits = [(each, each.fit(residuals)) for each in levels]
        return [
            (
                score + fit.likelihood + _plausible(course, fit.level),
                Likely(0.0, course, each.noise, present, fit, each.sd),
            )
            for each, fit in fits
        ]

    def _normalised(self, rows: list[tuple[float, Likely]]) -> list[Likely]:
        if not rows:
            return []
        top = max(score for score, _ in rows)
        total = sum(exp(score - top) for score, _ in rows)
        self.evidence = top + log(total)
        kept = [(exp(score - top) / total, row) for score, row in rows]
        return [row._replace(weight=weight) for weight, row in kept if weight > _NEGLIGIBLE / 100]

    @property
    def best(self) -> Likely:
        """The likeliest of all."""
        return max(self.likely)

    def share(self, *, bends: bool | None = None, lives: tuple[float, float] | None = None) -> float:
        """The likelihood of courses that bend (or not), and whose life [warm days] lies between two bounds."""
        return sum(
            row.weight
            for row in self.likely
            if (bends is None or bool(row.course.floor) is bends)
            and (lives is None or lives[0] <= row.course.life < lives[1])
        )

    def reached(self, limit: float, pace: float, *, bends: bool) -> list[float]:
        """The odds that the dawn low has been below `limit` [pH] by the n-th day from now, for n from 1 on.

        `pace` is warm days a day where the filter works at its best. Courses that bend count only where `bends`.
        """
        rows = [row for row in self.likely if row.weight > _NEGLIGIBLE and (bends or not row.course.floor)]
        total = sum(row.weight for row in rows)
        found = [0.0] * HORIZON_DAYS
        for row in rows:
            for node, share in _NODES:
                for n, odds in enumerate(_crossed(row, row.fit.level + node * row.level_sd, limit, pace)):
                    found[n] += row.weight / total * share * odds
        return found


def _crossed(row: Likely, level: float, limit: float, pace: float) -> list[float]:
    """Odds that a dawn low has been below the limit by day 1, 2, ...; `level` [pH] is where it stands now."""
    found, kept, share, ph = [], 1.0, 1.0, level
    for _ in range(HORIZON_DAYS):
        if kept > _NEGLIGIBLE:
            share = row.course.after(share, pace * zeal(ph))
            ph = level + log10(share) if share > 0.0 else 0.0
            kept *= normal((ph - limit) / row.noise)
        found.append(1.0 - kept)
    return found


def _plausible(course: Course, ph: float) -> float:
    """Log of how plausible a falling course is at the pond's present level [pH]."""
    if not 0.0 < course.life < inf:
        return 0.0
    off = (log(course.life / LIFE_AT_PH_7) - log(10.0) * (ph - 7.0)) / LIFE_SPREAD
    return -0.5 * off * off
