"""Tonight: the coming dawn low, forecast from sunset on with its bounds, from the pond's own nights.

Simple rules (night_rules.py) are blended by what each was worth on this water (blend.py), and corrected for water that
is warmer or colder than last night (warmth.py). Where the night departs from what the pond does, the fall itself
carries the forecast (departure.py). The bounds come from the forecast's own past errors at this part of the night
(spread.py). Only good readings, smoothed, come here.

A low is what the water does, not the deepest of many readings' chances: the pH that nights are compared by and that the
low is taken of is averaged, the last minutes counting most (SETTLED_MS), and stands for the time so long before.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from statistics import fmean, median
from typing import Final, NamedTuple

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.blend import Blend
from dawnline.outlook.departure import departure, going_on
from dawnline.outlook.night import DARK, EVENING, PHASES, Night, night_of, value_at
from dawnline.outlook.night_rules import RULES, forecasts
from dawnline.outlook.smooth import Point
from dawnline.outlook.spread import Spread
from dawnline.outlook.sun import PondDay, Sun
from dawnline.outlook.trust import Trust
from dawnline.outlook.warmth import Warmth
from dawnline.state import Stateful

NIGHTS_KNOWN: Final = 24
LEAST_NIGHTS: Final = 3
LEAST_SEEN: Final = 0.6  # of the phases in which the low is sought
EVERY_MS: Final = 10 * MINUTE_MS
SETTLED_MS: Final = 7 * MINUTE_MS
GAP_MS: Final = 75 * MINUTE_MS  # a phase is not filled in across a longer one
SHAPE: Final = 2  # where the pH by phase begins in what is kept of a night
PARTS: Final = 6  # of a night, learned apart
PART_PHASES: Final = 3
FELL_PHASES: Final = 3  # over which nights are likened by their fall, about two hours
CARBON: Final = RULES.index("carbon")
JUDGED_FROM: Final = EVENING - 1  # phase: an hour before sunset
LEANS_FROM: Final = 2.0  # scales by which a night departs, from which the fall carries some of the forecast,
LEANS_WHOLLY: Final = 3.0  # and from which all of it
UNSURE: Final = 0.4  # share of the correction for a departure that the bounds widen by


class Outlook(NamedTuple):
    """The forecast of one moment, and why.

    At `at` [ms] the pH was `value`. `low` has its 10 % and 90 % bounds [pH] and is expected at `low_at` [ms].
    `scales`, `fall`, `usual`, `since` and `surplus` say how the night departs from the usual (departure.py).
    """

    at: int
    value: float
    low: float
    low_p10: float
    low_p90: float
    low_at: int
    scales: float
    fall: float
    usual: float
    since: int
    surplus: float


class Part(Stateful):
    """What is learned about one part of the night."""

    KEPT = ("blend", "warmth", "spread")

    def __init__(self) -> None:
        self.blend = Blend()
        self.warmth = Warmth()
        self.spread = Spread()

    def learn(self, said: Sequence[tuple[float | None, ...]], low: float) -> None:
        """The night is over, its low known: take what was `said` in this part, as `Tonight.said` has it."""
        count = len(said)
        self.blend.learn([sum(abs((row[1 + i] or 0.0) - low) for row in said) / count for i in range(len(RULES))])
        self.spread.learn([low - (row[-1] or 0.0) for row in said])
        warm = [
            (low - blended, warmer) for *_, blended, warmer, _ in said if blended is not None and warmer is not None
        ]
        if warm:
            self.warmth.learn(fmean(error for error, _ in warm), fmean(warmer for _, warmer in warm))


class Tonight(Stateful):
    """Forecasts the coming dawn low of one pH probe, streaming."""

    KEPT = (
        "nights", "parts", "opened", "values", "said", "low", "low_at", "before", "asked_at", "outlook",
        "warm", "warm_before", "water_c", "trust", "carried",
    )  # fmt: skip

    def __init__(self, sun: Sun) -> None:
        self.sun = sun
        # A night each, the oldest first: low, its phase, pH at each phase (None where unknown).
        self.nights: list[tuple[float | None, ...]] = []
        self.parts = {str(part): Part() for part in range(PARTS)}
        self.opened = -1  # a time of the night under way [ms]
        self.values: list[float | None] = []  # tonight's pH at each phase
        self.said: list[tuple[float | None, ...]] = []  # phase, rules, their blend, degrees warmer, the forecast
        self.low: float | None = None  # the lowest of tonight so far, from midnight on
        self.low_at = 0
        self.before: tuple[float, ...] = ()  # time and averaged pH at the last point
        self.asked_at = 0
        self.water_c: float | None = None  # the water's temperature now [degC]
        self.warm: list[float | None] = []  # tonight's at each phase
        self.warm_before: list[float | None] = []  # last night's
        self.trust = Trust()
        self.carried: list[tuple[float, ...]] = []  # tonight's ordinary forecasts, and those that a departure carried
        self.night: Night | None = None
        self.outlook: Outlook | None = None

    def restore(self, saved: dict[str, object]) -> None:
        """As `Stateful.restore`; the night itself follows from its time."""
        super().restore(saved)
        self.outlook = None if self.outlook is None else Outlook(*self.outlook)
        self.night = night_of(self.sun, self.sun.day_at(self.opened), self.opened) if self.opened >= 0 else None

    def forget(self) -> None:
        """What comes now is not to be compared with this evening; earlier nights keep their shape."""
        self.values = [None] * len(self.values)
        self.before, self.outlook, self.low = (), None, None

    def shift(self, change: float) -> None:
        """The nights remembered count for `change` pH more: the probe was calibrated."""
        self.nights = [
            tuple(v if v is None or 0 < i < SHAPE else v + change for i, v in enumerate(night)) for night in self.nights
        ]
        self.low = None if self.low is None else self.low + change

    def push(self, point: Point, day: PondDay, grain: float = 0.0) -> Outlook | None:
        """Take one smoothed point with the pond day it lies in; gives a new outlook every ten minutes of the night.

        `grain` is one count of the converter [pH].
        """
        at, value = point.at, point.value
        if self.night is None or at >= self.night.end:
            self._close()
            self._open(day, at)
        night = self.night
        assert night is not None
        then, settled = self._settle(at, value)
        if then >= night.midnight and at < night.end and (self.low is None or settled < self.low):
            self.low, self.low_at = settled, then
        phase = night.phase(at)
        if phase < JUDGED_FROM or at < self.asked_at or at >= night.end:
            return None
        self.asked_at = at - at % EVERY_MS + EVERY_MS
        self.outlook = self._ask(night, phase, at, value, grain)
        return self.outlook

    def lows(self) -> list[float]:
        """The lows of the nights known, the oldest first [pH]."""
        return [night[0] for night in self.nights if night[0] is not None]

    def profiles(self) -> list[tuple[float | None, ...]]:
        """The pH by phase of the nights known, the oldest first."""
        return [past[SHAPE:] for past in self.nights]

    def is_day(self, at: int) -> bool:
        """Whether the sun has been up for an hour at `at` [ms]: what comes now is not the night's doing."""
        return self.night is None or at > self.night.sunrise + HOUR_MS

    def passes(self, limit: float) -> int | None:
        """When the pH is expected to fall below `limit` [ms], None where it is not; by the shape of earlier nights."""
        night, outlook = self.night, self.outlook
        if night is None or outlook is None or outlook.low >= limit:
            return None
        now, end = night.phase(outlook.at), night.phase(outlook.low_at)
        wanted = (outlook.value - limit) / max(outlook.value - outlook.low, 0.01)
        for phase in range(int(now) + 1, int(end) + 1):
            shares = [_share(past, now, phase) for past in self.nights]
            seen = [share for share in shares if share is not None]
            if seen and median(seen) >= wanted:
                return max(night.time_of(phase), outlook.at)
        return outlook.low_at

    # ------------------------------------------------------------ a night begins, is filled in, ends

    def _open(self, day: PondDay, at: int) -> None:
        self.opened, self.night = at, night_of(self.sun, day, at)
        self.values, self.said = [None] * PHASES, []
        self.warm_before, self.warm = self.warm, [None] * PHASES
        self.low, self.low_at, self.before, self.outlook = None, 0, (), None
        self.asked_at, self.carried = 0, []

    def _settle(self, at: int, value: float) -> tuple[int, float]:
        """The averaged pH with the time it stands for; fills in the whole phase just passed."""
        night, before, then = self.night, self.before, at - SETTLED_MS
        assert night is not None
        if not before or then - before[0] > GAP_MS:
            self.before = (then, value)
            return self.before
        settled = value + exp((before[0] - then) / SETTLED_MS) * (before[1] - value)
        self.before = (then, settled)
        phase = night.phase(then)
        index = int(phase)
        if phase >= 0 and index < PHASES and self.values[index] is None:
            earlier = night.phase(int(before[0]))
            share = (index - earlier) / (phase - earlier) if phase > earlier else 1.0
            if share >= 0:
                self.values[index] = round(before[1] + share * (settled - before[1]), 4)
                self.warm[index] = self.water_c
        return self.before

    def _close(self) -> None:
        """The night is over: learn from it where its low is known."""
        night = self.night
        if night is None or self.low is None:
            return
        sought = self.values[int(night.phase(night.midnight)) :]
        if sum(v is not None for v in sought) < LEAST_SEEN * len(sought):
            return
        for number, part in self.parts.items():
            said = [row for row in self.said if row[0] is not None and _part(row[0]) == number]
            if said:
                part.learn(said, self.low)
        self.trust.learn([(ordinary, carried) for ordinary, carried in self.carried], self.low)
        low, phase = round(self.low, 4), round(night.phase(self.low_at), 2)
        self.nights = [*self.nights[-(NIGHTS_KNOWN - 1) :], (low, phase, *self.values)]

    # ------------------------------------------------------------ the forecast

    def _ask(self, night: Night, phase: float, at: int, value: float, grain: float) -> Outlook | None:
        said = self._by_rules(night, value)
        if not said:
            return None
        part = self.parts[_part(phase)]
        blended = part.blend.of(said)
        warmer = self._warmer(phase)
        ordinary = self._reached(blended + part.warmth.of(warmer or 0.0))
        departs = departure(night, at, value, self.values, self.profiles(), grain=grain)
        low_at = self._low_at(night, at)
        lean = min(max((departs.scales - LEANS_FROM) / (LEANS_WHOLLY - LEANS_FROM), 0.0), 1.0)
        carried = ordinary
        if lean:
            hours = max(low_at, night.sunrise - HOUR_MS // 2, at) - at
            carried = self._reached(going_on(min(ordinary, said[CARBON]), departs.surplus, hours / HOUR_MS))
            self.carried.append((round(ordinary, 4), round(carried, 4)))
        low = min(ordinary + lean * self.trust.share() * (carried - ordinary), value)
        down, up = part.spread.bounds()
        unsure = UNSURE * abs(low - ordinary)
        if phase >= EVENING and (not self.said or int(phase) > (self.said[-1][0] or 0)):
            self.said.append((int(phase), *(round(each, 4) for each in said), round(blended, 4), warmer, round(low, 4)))
        if self.low is not None and low >= self.low:
            low, low_at = self.low, self.low_at
        return Outlook(at, value, low, low - down - unsure, self._reached(low + up + unsure), low_at, *departs)

    def _by_rules(self, night: Night, value: float) -> tuple[float, ...]:
        """What each rule says, no more than the present `value`; nothing while too few nights are known."""
        then, settled = self.before
        phase = night.phase(int(then))
        since = max(int(phase) - FELL_PHASES, 0)
        known = [(past[0], value_at(past[SHAPE:], phase), past[SHAPE + since]) for past in self.nights]
        seen = [(low, then, was) for low, then, was in known if low is not None and then is not None]
        if len(seen) < LEAST_NIGHTS:
            return ()
        before = self.values[since]
        falls = [None if was is None else was - then for _, then, was in seen]
        falls.append(None if before is None else before - settled)
        lows = [low for low, _, _ in seen]
        said = forecasts(phase, settled, [then for _, then, _ in seen], lows, falls)
        return tuple(min(self._reached(each), value) for each in said)

    def _warmer(self, phase: float) -> float | None:
        """How much warmer the water is than last night at this phase [degC]; None where that is not known."""
        then = value_at(self.warm_before, phase)
        return None if then is None or self.water_c is None else round(self.water_c - then, 3)

    def _reached(self, forecast: float) -> float:
        """The low so far is one already."""
        return forecast if self.low is None else min(forecast, self.low)

    def _low_at(self, night: Night, at: int) -> int:
        """When earlier nights were lowest; now, where that has passed."""
        return max(night.time_of(median([past[1] or EVENING + DARK for past in self.nights])), at)


def _part(phase: float) -> str:
    return str(min(max(int(phase) - EVENING, 0) // PART_PHASES, PARTS - 1))


def _share(past: tuple[float | None, ...], now: float, then: float) -> float | None:
    """How much of what a night still lost after the phase `now` it had lost by `then`; None where not seen."""
    low, here, there = past[0], value_at(past[SHAPE:], now), value_at(past[SHAPE:], then)
    if low is None or here is None or there is None or here - low < 0.02:
        return None
    return (here - there) / (here - low)
