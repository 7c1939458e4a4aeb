"""Sudden drop: a fall of pH beyond what is usual for this pond at this hour of the sun.

The fall over 15 and 60 minutes, less the median fall of earlier days at the same solar phase (usual.py), is held
against a robust scale and an absolute floor. It must go on for ten minutes, and the pH must also lie below
what is usual at this phase: a fall from an unusually bright afternoon back to the ordinary is no crash. Where the days
sink one below the other, it must lie below where this course leads. Counted in inorganic carbon, too, it must exceed
what earlier days gained: between pH 8 and 7 little carbon makes a steep fall.

The solar phase counts sunrise to sunset in 24 parts and sunset to sunrise in 24 parts, so that summer and winter
nights compare. Thresholds were set on simulated ponds and on public lake and stream records; no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import deque
from operator import itemgetter
from statistics import median
from typing import Final, NamedTuple

from dawnline.duration import MINUTE_MS, show_duration
from dawnline.outlook.climb import Climb, Ordinary, swung
from dawnline.outlook.finding import Condition
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay, solar_phase
from dawnline.outlook.usual import LEAST_DAYS, Usual, gain, learned
from dawnline.state import Stateful

WINDOWS_MS: Final = (15 * MINUTE_MS, 60 * MINUTE_MS)
REMEMBERED_MS: Final = 210 * MINUTE_MS  # of points, by which a series that swings is known
FLOORS: Final = (0.1, 0.12)  # pH units, once three earlier days are known
FIRST_FLOORS: Final = (0.4, 0.8)  # before that, against no fall at all
COUNTS: Final = 2.5  # a coarse converter's last digits are no fall
SCALE_FACTOR: Final = 5.0
DAYS_KNOWN: Final = 14
GOES_ON: Final = 4.0  # times as long as it was watched
PERSISTENCE_MS: Final = 10 * MINUTE_MS
PERSISTENCE: Final = 3  # intervals of a slow probe
ENDS_AT: Final = 0.5  # of what was needed to begin
SETTLE_MS: Final = 10 * MINUTE_MS
LEAST_MORE: Final = 0.5  # of the carbon that is usual, from which a fall stands out
LEAST_GAIN: Final = 0.002  # of carbon per alkalinity
LEAPS: Final = (0.28, 0.45)  # pH up within the two windows, and
LEAPS_BY: Final = 3.0  # times the largest rise of these weeks, whatever the hour, less a count


class Fall(NamedTuple):
    """The fall that stands out most: over `window` [ms], by `fall` pH where `usual` is ordinary."""

    window: int
    fall: float
    usual: float


class Drop(Stateful):
    """Sudden-drop detection on the smoothed series of one pH probe."""

    KEPT = ("points", "profile", "phase", "last_falls", "since", "worst", "latest", "settled_at", "interval", "climb")

    def __init__(self) -> None:
        self.points: deque[tuple[int, float]] = deque()  # of the last hours
        self.profile: dict[str, list[tuple[float, ...]]] = {}  # phase -> (fall a window ..., level), a day each
        self.phase = -1
        self.last_falls: tuple[float, ...] = ()
        self.since: int | None = None
        self.latest = 0
        self.settled_at = 0
        self.interval = MINUTE_MS
        self.worst: tuple[float, ...] = ()  # window, fall, usual
        self.climb = Climb()
        self._usual: tuple[int, Usual | None] = (-1, None)

    def restore(self, saved: dict[str, object]) -> None:
        """As `Stateful.restore`; what is derived is derived again."""
        super().restore(saved)
        self._usual = (-1, None)

    def forget(self, at: int) -> None:
        """The probe stepped at `at` [ms]: falls are counted from ten minutes later on, when it has settled."""
        self.points.clear()
        self.climb.forget()
        self.settled_at = max(self.settled_at, at + SETTLE_MS)
        self.since, self.worst = None, ()

    def shift(self, change: float) -> None:
        """The levels remembered count for `change` pH more: the probe was calibrated. Falls stay what they were."""
        self.profile = {phase: [(*day[:-1], day[-1] + change) for day in days] for phase, days in self.profile.items()}
        self.climb.seen_to()
        if self.last_falls:
            self.last_falls = (*self.last_falls[:-1], self.last_falls[-1] + change)
        self._usual = (-1, None)

    def push(self, point: Point, day: PondDay, interval: int, grain: float = 0.0, hiss: float = 0.0) -> None:
        """Take one smoothed point with the pond day it lies in; `grain` is one count of the converter [pH].

        `hiss` is how the readings usually tremble from one to the next [pH].
        """
        at, value = point.at, point.value
        self.latest, self.interval = at, interval
        if at < self.settled_at:
            return
        self._remember(at, value)
        falls = self._falls(at, value, interval)
        if falls is None:  # a gap lies behind: what stood out before it is over
            self.since, self.worst = None, ()
            return
        phase = solar_phase(at, day)
        if phase != self.phase:
            self._close_phase()
            self.phase = phase
        self.last_falls = (*falls, value)
        usual = self.usual()
        if usual is not None:
            ordinary = Ordinary(usual.falls, usual.level, usual.rise, hiss, grain)
            self.climb.push(point, ordinary, interval, (self.leap(grain) or (0.0,))[0])
        found = self._stands_out(falls, value, COUNTS * grain)
        self.since = None if found is None else at if self.since is None else self.since
        self.worst = () if found is None else tuple(found)

    def condition(self) -> Condition:
        """MET once a fall that stands out has gone on for ten minutes; BETWEEN until then."""
        if self.since is None:
            return Condition.CLEAR
        persistence = max(PERSISTENCE_MS, PERSISTENCE * self.interval)
        return Condition.MET if self.latest - self.since >= persistence else Condition.BETWEEN

    def leap(self, grain: float) -> tuple[float, int] | None:
        """By how much [pH], within what [ms], the newest point has leapt up as no earlier day did; None for no leap."""
        leaps = self.last_falls and -min(self.last_falls[:2]) >= LEAPS[0] and self.latest >= self.settled_at
        if not leaps:  # as always
            return None
        for i, window in enumerate(WINDOWS_MS):
            if self.is_leap(-self.last_falls[i], grain, i):
                return -self.last_falls[i], window
        return None

    def is_leap(self, rise: float, grain: float, window: int = 0) -> bool:
        """Whether no earlier day made such a rise [pH] within the window of this number."""
        usual = self.usual()
        least = max(LEAPS[window], COUNTS * grain)
        return usual is not None and rise > max(least, LEAPS_BY * (usual.rises[window] - grain))

    def swings(self, day: PondDay, grain: float = 0.0) -> bool:
        """Whether the series has lately climbed as it does not usually by a fair part of what it now has fallen.

        What climbs and falls so within hours is no water whose fall is to be believed yet. `grain` as in `push`.
        """
        rows: list[tuple[float, float]] = []
        for at, value in self.points:
            level = self._level(solar_phase(at, day))
            if level is None:
                return False
            rows.append((value, value - level))
        return bool(rows) and (swung(rows, grain) or self.climb.falls_back(rows[-1][1], grain))

    def _level(self, phase: int) -> float | None:
        """The median level of earlier days at this phase."""
        days = self.profile.get(str(phase), [])
        return median(day[-1] for day in days) if len(days) >= LEAST_DAYS else None

    def to_come(self, grain: float = 0.0) -> float:
        """What would still be lost [pH] if the fall that stands out went on as it does now, give or take a count.

        What leapt and then lay flat, as a bumped reference does, has lost what it loses.
        """
        if not self.worst:
            return 0.0
        window, fall, _ = self.worst
        now = (max(self.last_falls[0], 0.0) + grain) * window / WINDOWS_MS[0]
        return GOES_ON * min(fall, now)

    def evidence(self) -> str:
        """The fall in words."""
        window, fall, usual = self.worst
        fell = f"pH fell {fall:.2f} in {show_duration(window)}"
        if self.usual() is None:
            return f"{fell}; what is usual here is not known yet"
        return f"{fell}; {max(usual, 0.0):.2f} is usual at this hour"

    def usual(self) -> Usual | None:
        """What earlier days did at the present phase, from it and its neighbours; None while too few are known."""
        if self._usual[0] != self.phase:
            self._usual = (self.phase, learned(self.profile, self.phase))
        return self._usual[1]

    def level(self) -> float | None:
        """The level that is usual at the present phase [pH]; None while it is not known."""
        usual = self.usual()
        return None if usual is None else usual.level

    def level_before(self, at: int) -> float | None:
        """Where the series stood before `at` [ms], as far as that is remembered; else what is usual at this phase."""
        values = sorted(value for when, value in self.points if when <= at)
        usual = None if values else self.usual()
        return values[len(values) // 2] if values else usual.level if usual else None

    def changed(self, phase: int) -> float | None:
        """By how much the level at a phase has changed from the day before to the newest [pH]."""
        days = self.profile.get(str(phase), [])
        return days[-1][-1] - days[-2][-1] if len(days) > 1 else None

    def _remember(self, at: int, value: float) -> None:
        points = self.points
        points.append((at, value))
        oldest = at - REMEMBERED_MS
        while points[0][0] < oldest:
            points.popleft()

    def _falls(self, at: int, value: float, interval: int) -> tuple[float, ...] | None:
        """The fall over each window (0.0 where a gap hides it), or None with no window seen at all."""
        slack = max(5 * MINUTE_MS, interval)
        falls, seen = [], False
        for window in WINDOWS_MS:
            before = self._value_at(at - window, slack)
            seen = seen or before is not None
            falls.append(0.0 if before is None else before - value)
        return tuple(falls) if seen else None

    def _value_at(self, at: int, slack: int) -> float | None:
        points = self.points
        after = bisect_left(points, at, key=itemgetter(0))
        if after < len(points) and points[after][0] - at <= slack:
            return points[after][1]
        return points[after - 1][1] if after and at - points[after - 1][0] <= slack else None

    def _close_phase(self) -> None:
        if self.phase < 0 or not self.last_falls:
            return
        days = self.profile.setdefault(str(self.phase), [])
        days.append(self.last_falls)
        del days[:-DAYS_KNOWN]

    def _stands_out(self, falls: tuple[float, ...], value: float, least: float) -> Fall | None:
        """The window whose fall exceeds what is needed most; a fall once found is held until half of it is gone."""
        usual, enough = self.usual(), 1.0 if self.since is None else ENDS_AT
        if usual is None:
            over = [(f / floor, i) for i, (f, floor) in enumerate(zip(falls, FIRST_FLOORS, strict=True))]
            ratio, i = max(over)
            return Fall(WINDOWS_MS[i], falls[i], 0.0) if ratio > enough else None
        if value > usual.ordinary:
            return None
        best: tuple[float, int] | None = None
        for i, fall in enumerate(falls):
            needed = max(FLOORS[i], least, SCALE_FACTOR * usual.scales[i])
            ratio = (fall - max(usual.falls[i], 0.0)) / needed
            if ratio > enough:  # after an evening brighter than usual, steepness alone is nothing
                gained = max(usual.gains[i], 0.0)
                more = max(SCALE_FACTOR * usual.gain_scales[i], LEAST_MORE * gained, LEAST_GAIN)
                ratio = min(ratio, (gain(value, fall) - gained) / more)
            if ratio > enough and (best is None or ratio > best[0]):
                best = (ratio, i)
        return Fall(WINDOWS_MS[best[1]], falls[best[1]], usual.falls[best[1]]) if best else None
