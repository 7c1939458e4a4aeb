"""The account itself: runs the balance through the lines, day by day, and says what it has come to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

from dawnline.account.balance import Balance
from dawnline.account.lines import ITEMS, Fed, Item, Line, Stepped, Tested, lines_of
from dawnline.account.terms import algae_meq_l_day, feed_meq_l_day
from dawnline.duration import DAY_MS
from dawnline.event import Act
from dawnline.outlook.hardness import BLUR
from dawnline.outlook.rain_book import Fell, by_hand, counted, fallen_mm
from dawnline.outlook.settings import PondSettings
from dawnline.water.units import meq_l_from_dkh

WEEK_MS: Final = 7 * DAY_MS
DAYS_BACK: Final = 120  # what it looks back on: an older test of KH says nothing any more; no source
PRESUMED_C, PRESUMED_PH = 15.0, 7.5  # where nothing was measured
FLOOR_MEQ_L: Final = meq_l_from_dkh(1.0)  # where the dawn lows do not say which alkalinity is too little
MOST_DAYS: Final = 90  # beyond that a number of days means nothing
EIGHT_OF_TEN: Final = 1.2816  # standard deviations, of a normal distribution


class Climate(NamedTuple):
    """One pond day: water [degC] and mean pH, where they are known."""

    celsius: float | None
    ph: float | None


class Point(NamedTuple):
    """The alkalinity at one time [meq/L] and its standard deviation."""

    at: int
    alkalinity: float
    sd: float


class Days(NamedTuple):
    """Days left; None where they are more than can be said."""

    earliest: int | None
    likely: int | None
    latest: int | None


UNKNOWN: Final = Days(None, None, None)


@dataclass(frozen=True, slots=True)
class Account:
    """What the account has come to at `at` [ms]. Amounts in meq/L, what is gained positive.

    `week` is where the buffer went in the last seven days, by item; `algae` what of "shell and the rest" algae may
    have taken and given; `a_day` and `a_day_sd` what a day gains now; `shell` the gain of "shell and the rest" a day
    with its standard deviation; `feed_a_day` what feed takes a day; `floor` the alkalinity at which the dawn low passes
    its limit; `rain_mm` the rain of the week. `why_not` says why there is none.
    """

    at: int
    points: tuple[Point, ...] = ()
    tests: int = 0
    last_test: int | None = None
    week: Mapping[Item, float] = field(default_factory=dict)
    week_days: float = 0.0
    algae: tuple[float, float] = (0.0, 0.0)
    a_day: float = 0.0
    a_day_sd: float = 0.0
    feed_a_day: float = 0.0
    shell: tuple[float, float] = (0.0, 0.0)
    fed: Fed | None = None
    floor: float = FLOOR_MEQ_L
    days: Days = UNKNOWN
    rain_mm: float = 0.0
    why_not: str = ""


def account(
    done: Iterable[Act],
    climate: Mapping[int, Climate],
    pond: PondSettings,
    at: int,
    *,
    rain: Sequence[Fell] | None = None,
    dawn_low: float | None = None,
    ph_low: float = 6.5,
) -> Account:
    """The account at `at` [ms]. `done` are accepted acts; `climate` is by the day, Unix ms // DAY_MS; `rain` is all
    there was, where more than the logbook knows of it; `dawn_low` is the usual one of late: it tells the alkalinity at
    which the limit `ph_low` will be passed.
    """
    came = list(done)
    fell = counted([], by_hand(came)) if rain is None else rain
    lines = [line for line in lines_of(came, pond, fell) if line.at <= at]
    tests = [line for line in lines if isinstance(line, Tested)]
    if not pond.volume_litres:
        return Account(at, why_not="the pond's volume is not known: volume_litres in [pond]")
    if not tests:
        why = f"no test of KH from the last {DAYS_BACK} days is in the logbook: test it and log it"
        return Account(at, why_not=why)
    since = max(at - WEEK_MS, tests[0].at)
    found = _Run(lines, climate, pond, tests[0], since).to(at, tests, dawn_low, ph_low)
    return replace(found, rain_mm=fallen_mm(fell, since, at))


class _Run:
    """One run of the balance through the lines, from the first test on."""

    def __init__(
        self, lines: Sequence[Line], climate: Mapping[int, Climate], pond: PondSettings, first: Tested, since: int
    ) -> None:
        self.climate, self.pond, self.since = climate, pond, since  # from `since` on the week is booked
        before = [line for line in lines if isinstance(line, Fed) and line.at <= first.at]
        self.fed = before[-1] if before else None
        known = any(isinstance(line, Fed) for line in lines)
        width = first.high - first.low
        self.balance = Balance(
            (first.low + first.high) / 2.0, (width**2 / 12.0 + (BLUR * width) ** 2) ** 0.5, fed=known
        )
        self.lines = [line for line in lines if line.at >= first.at and line is not first]
        self.now = first.at
        self.points = [Point(first.at, self.balance.mean[0], self.balance.sd)]
        self.entries: list[tuple[int, Item, float]] = []  # time, item, meq/L

    def to(self, at: int, tests: Sequence[Tested], dawn_low: float | None, ph_low: float) -> Account:
        """Run to `at`, and say what it has come to."""
        for line in self.lines:
            self._wait(line.at)
            self._take(line)
        self._wait(at)
        balance, week = self.balance, dict.fromkeys(ITEMS, 0.0)
        for when, item, amount in self.entries:
            if when > self.since:
                week[item] += amount
        feed = self._feed(at)
        a_day, a_day_sd = balance.rate(feed)
        floor = FLOOR_MEQ_L if dawn_low is None else balance.mean[0] * 10.0 ** (ph_low - dawn_low)
        days = (at - self.since) / DAY_MS
        surface, litres = self.pond.surface_m2, self.pond.volume_litres or 1.0
        algae = (0.0, 0.0) if surface is None else algae_meq_l_day(surface, litres)
        return Account(
            at, tuple(self.points), len(tests), tests[-1].at, week, days, (days * algae[0], days * algae[1]), a_day,
            a_day_sd, feed * balance.mean[2], (balance.mean[1], balance.cov[1][1] ** 0.5), self.fed, floor,
            _days_left(balance.mean[0] - floor, balance.sd, a_day, a_day_sd),
        )  # fmt: skip

    def _wait(self, until: int) -> None:
        """Let the days pass, each with its own warmth and pH."""
        while self.now < until:
            end = min(until, (self.now // DAY_MS + 1) * DAY_MS, self.since if self.now < self.since else until)
            days, feed = (end - self.now) / DAY_MS, self._feed(self.now)
            gain, share = self.balance.mean[1], self.balance.mean[2]
            self.balance.advance(days, feed)
            self.now = end
            self.entries += [(end, "feed", -days * feed * share)]
            self.entries += [(end, "shell and the rest", days * gain)]
            self.points.append(Point(end, self.balance.mean[0], self.balance.sd))

    def _take(self, line: Line) -> None:
        before = self.balance.mean[0]
        match line:
            case Tested(_, low, high):
                self.entries.append((line.at, "corrected by tests", self.balance.test(low, high, BLUR * (high - low))))
            case Stepped():
                adds = (1.0 - line.keeps) * before if line.adds is None else line.adds
                self.balance.step(line.keeps, adds, line.sd)
                self.entries.append((line.at, line.item, self.balance.mean[0] - before))
            case Fed():
                self.fed = line
        self.points.append(Point(line.at, self.balance.mean[0], self.balance.sd))

    def _feed(self, at: int) -> float:
        if self.fed is None:
            return 0.0
        day = self.climate.get(at // DAY_MS) or Climate(None, None)
        celsius = PRESUMED_C if day.celsius is None else day.celsius
        ph = PRESUMED_PH if day.ph is None else day.ph
        litres = self.pond.volume_litres or 1.0
        return feed_meq_l_day(self.fed.grams_a_day, self.fed.protein_percent, litres, celsius, ph)


def _days_left(above: float, sd: float, a_day: float, a_day_sd: float) -> Days:
    """Days until so much is used: the likeliest, and the bounds that hold eight times in ten."""
    if above <= 0.0:
        return Days(0, 0, 0)
    soon, late = max(above - EIGHT_OF_TEN * sd, 0.0), above + EIGHT_OF_TEN * sd
    return Days(
        _days(soon, a_day - EIGHT_OF_TEN * a_day_sd),
        _days(above, a_day),
        _days(late, a_day + EIGHT_OF_TEN * a_day_sd),
    )


def _days(above: float, a_day: float) -> int | None:
    if a_day >= 0.0 or above / -a_day > MOST_DAYS:
        return None
    return int(above / -a_day)
