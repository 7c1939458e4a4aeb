"""The buffer line: the day on which the buffer will be gone, from one probe's dawn lows.

At these pH values 10^pH is proportional to alkalinity over CO2, and late at night CO2 is near a balance that is much
the same from night to night. So 10^(dawn low) falls on a straight line while pH looks calm, and then off a cliff:

    dawn low = c + log10(1 - t / life) + g (T - T_now) + wander of the probe + noise,   t in warm days from now

Design of the line: buffer_course.py (the curve), level.py (c, g, wander), buffer_odds.py (how likely each life is).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import groupby
from math import exp
from typing import Final, Literal, NamedTuple, TypeAlias

from dawnline.duration import DAY_MS
from dawnline.outlook.buffer_course import trace, warm_days
from dawnline.outlook.buffer_diary import RAIN, RAIN_SD, Diary, Entry, Oddity
from dawnline.outlook.buffer_odds import Odds
from dawnline.outlook.buffer_steps import judged
from dawnline.outlook.level import Level
from dawnline.outlook.rain_book import Fell
from dawnline.state import Stateful

Trend: TypeAlias = Literal["falling", "steady", "rising", "unclear"]

LEAST_NIGHTS: Final = 7
RECENT_NIGHTS: Final = 5  # of the last ten days
FARTHEST_DATE: Final = 10  # days ahead
FALLING_DAYS: Final = 45.0  # warm days to zero: a slower fall is within what a probe wanders
SURE: Final = 0.8
COLD_C: Final = 8.0  # below, filter and fish all but rest; common practice, no source
MUCH_RAIN_MM: Final = 10.0  # common sense, no source
UNKNOWN_FEED: Final = -1.0  # g a day: the fish are fed, with how much was never said
EARLY, LATE = 0.1, 0.9
DATED: Final = 0.6  # odds within FARTHEST_DATE, for a day to be named
# pH above the limit from which none is: seven eighths would have to go within ten days; a pond that settles looks so.
DATED_BELOW: Final = 0.9


class Outlook(NamedTuple):
    """What one morning says. Days are counted from that day; None while nothing honest can be said.

    `why_not` tells what keeps it from being evaluated. `fitted` has the line at each night [pH], `last_low` is that of
    the night just over [pH], `alkalinity` [meq/L] is known only with tests of KH, `a_day` is the share of the present
    alkalinity used a day.
    """

    trend: Trend = "unclear"
    central: int | None = None
    earliest: int | None = None
    latest: int | None = None
    why_not: str = ""
    bends: float = 0.0
    a_day: float | None = None
    alkalinity: float | None = None
    fitted: tuple[float, ...] = ()
    oddities: tuple[Oddity, ...] = ()
    last_odd: bool = False
    last_low: float | None = None


class BufferLine(Stateful):
    """The line of one probe; `limit` is ph_low [pH]."""

    KEPT = ("diary",)

    def __init__(self, limit: float) -> None:
        self.limit = limit
        self.diary = Diary()

    def night(self, at: int, low: float, water_c: float | None = None) -> Outlook:
        """Take a dawn low [pH] of `at` [ms], and the water's temperature [degC]; gives the morning's outlook."""
        self.diary.night(at, low, water_c)
        why_not = self._cannot(at)
        if why_not:
            return Outlook(why_not=why_not)
        odds, oddities = judged(self.diary)
        if not odds.likely:
            return Outlook(why_not="the record contradicts the acts in the logbook: check their amounts")
        return self._outlook(odds, tuple(oddities), low)

    # ------------------------------------------------------------ acts and measurements

    def checked(self, at: int, offset: float) -> None:
        """The probe was checked in a buffer solution and read `offset` [pH] too much."""
        self.diary.enter(Entry(at, "checked", offset))

    def calibrated(self, at: int) -> None:
        """The probe reads right from now on. Call `checked` first where its error was measured."""
        self.diary.enter(Entry(at, "calibrated"))

    def cleaned(self, at: int, sd: float = 0.03, source: str = "") -> None:
        """The probe's error may have moved by about `sd` [pH]."""
        self.diary.enter(Entry(at, "cleaned", sd, source=source))

    def stepped(self, at: int, sd: float, source: str = "") -> None:
        """The pond's level may have moved by about `sd` [pH], with no change to the days left."""
        self.diary.enter(Entry(at, "stepped", sd, source=source))

    def tested(self, at: int, read_dkh: float, step_dkh: float | None = None, source: str = "") -> None:
        """A test by hand read so much KH [dKH], with a kit whose drops stand for `step_dkh`, where that is known."""
        self.diary.enter(Entry(at, "tested", read_dkh, step_dkh or 0.0, source))

    def diluted(self, at: int, share: float, source_meq_l: float, source: str = "") -> None:
        """A share of the water (0 to 1) was exchanged for water of another alkalinity [meq/L]."""
        self.diary.enter(Entry(at, "diluted", min(share, 0.95), source_meq_l, source))

    def added(self, at: int, meq_l: float, source: str = "") -> None:
        """Alkalinity was added [meq/L]."""
        self.diary.enter(Entry(at, "added", meq_l, source=source))

    def rained(self, fell: Sequence[Fell], depth_mm: float | None) -> None:
        """All the rain there was, in place of what was known of it. A millimetre thins the alkalinity by 1 in
        `depth_mm`, nobody knows how far where that is None. Rain of the same night is one entry.
        """
        self.diary.forget(RAIN)
        nights = [row[0] for row in self.diary.nights]
        for _, some in groupby(fell, key=lambda each: _between(nights, each.at)):
            rows = list(some)
            mm, at = sum(each.mm for each in rows), rows[-1].at
            if depth_mm is None:
                self.stepped(at, RAIN_SD * min(mm / MUCH_RAIN_MM, 1.0), RAIN)
            else:
                self.diary.enter(Entry(at, "rained", max(exp(-mm / depth_mm), 0.05), source=RAIN))

    def feeding(self, at: int, grams_a_day: float | None, source: str = "") -> None:
        """Feed is now so much a day [g]; the buffer is used in proportion. None for as much as before it stopped."""
        if grams_a_day is None:
            grams_a_day = next((grams for grams in reversed(self.diary.feed_g_day()) if grams), UNKNOWN_FEED)
        self.diary.enter(Entry(at, "fed", grams_a_day, source=source))

    def forget(self, source: str) -> None:
        """What came from this act never was: it was withdrawn, or is entered again as corrected."""
        self.diary.forget(source)

    @property
    def fed(self) -> bool:
        """Whether the fish are fed, as the logbook last said."""
        feed = self.diary.feed_g_day()
        return not feed or feed[-1] != 0

    def iced(self, at: int, sd: float, source: str = "", *, covers: bool) -> None:
        """Ice covers the pond, or does no longer; the level may have moved by about `sd` [pH]."""
        self.diary.enter(Entry(at, "ice", sd, float(covers), source))

    # ------------------------------------------------------------ inside

    def _cannot(self, at: int) -> str:
        """Why nothing can be said, or an empty string."""
        nights, water_c = self.diary.nights, self.diary.water_c
        if not self.fed:
            return "nothing is fed, so the buffer is hardly used"
        if water_c is not None and water_c < COLD_C:
            return f"the water is below {COLD_C:g} degC: filter and fish all but rest"
        if water_c is None and self.diary.frozen_over:
            return "ice covers the pond by the logbook: CO2 cannot leave it; note `ice none` when it is gone"
        recent = sum(1 for night in nights if at - night[0] < 10 * DAY_MS)
        if len(nights) < LEAST_NIGHTS or recent < RECENT_NIGHTS:
            return f"too few nights: {len(nights)} known, {recent} of the last ten"
        return ""

    def _outlook(self, odds: Odds, oddities: tuple[Oddity, ...], low: float) -> Outlook:
        best = odds.best
        bends = odds.share(bends=True)
        trend = _trend(odds)
        found = Outlook(
            trend,
            bends=bends,
            a_day=self.diary.pace * sum(row.weight / row.course.life for row in odds.likely),
            alkalinity=sum(row.weight * row.present for row in odds.likely) if odds.record.tests else None,
            fitted=_fitted(odds),
            oddities=oddities,
            last_odd=any(odd.at == self.diary.nights[-1][0] for odd in oddities),
            last_low=low,
        )
        if trend != "falling" or bends > 0.5:
            return found
        if low < self.limit and best.fit.level < self.limit:
            return found._replace(central=0, earliest=0, latest=0)
        reached = odds.reached(self.limit, warm_days(1.0, self.diary.water_c), bends=False)
        early, late = _first(reached, EARLY), _first(reached, LATE)
        found = found._replace(earliest=early, latest=late)
        mere = reached[FARTHEST_DATE - 1] < DATED or low - self.limit > DATED_BELOW
        if early is None or late is None or mere:
            return found  # no date on a mere chance, however near
        likeliest = min(max(_likeliest(reached), early), late)
        return found._replace(central=likeliest if likeliest <= FARTHEST_DATE else None)


def _trend(odds: Odds) -> Trend:
    falling = odds.share(lives=(0.0, FALLING_DAYS))
    rising = odds.share(lives=(-FALLING_DAYS, 0.0))
    if falling > SURE:
        return "falling"
    if rising > SURE:
        return "rising"
    return "steady" if 1.0 - falling - rising > SURE else "unclear"


def _first(reached: list[float], odds: float) -> int | None:
    """The first day by which the limit is passed with these odds; None beyond the horizon."""
    index = bisect_left(reached, odds)
    return index + 1 if index < len(reached) else None


def _likeliest(reached: list[float]) -> int:
    """The middle of the three days on which the limit is likeliest passed: nearer the truth than the median day."""
    by = [0.0, 0.0, *reached]
    return max(range(1, len(reached)), key=lambda day: (by[day + 2] - by[day - 1], -day))


def _fitted(odds: Odds) -> tuple[float, ...]:
    """The likeliest line at each night [pH], in order of time: through the present level, less steps before it."""
    best, record = odds.best, odds.record
    traced = trace(best.course, record.course_marks, best.present)
    assert traced is not None  # it was tried
    shares = list(reversed(traced[0]))
    fit = Level(record.level_marks, best.noise).fit([low - s for low, s in zip(record.lows, shares, strict=True)])
    return tuple(fit.level + fit.error + share for share in shares)


def _between(nights: Sequence[int], at: int) -> tuple[int, int]:
    """Between which nights a time [ms] lies; after the last of them by the time itself, until the next is known."""
    number = bisect_left(nights, at)
    return number, at if number == len(nights) else 0
