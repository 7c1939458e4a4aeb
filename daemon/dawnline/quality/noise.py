"""Noise: readings that tremble far more than this probe usually does.

Moisture in a plug, a ground loop or a dry glass bulb shows as restlessness from one reading to the next, which water
behind a glass electrode cannot follow. It is measured by the second difference of three readings, of which a steady
rise or fall gives none. A single difference is held against this probe's usual mean; most of the latest must be too
large, so that a few spikes are not taken for noise.

The floor depends on the interval: within a minute water behind the glass hardly moves, while a lake probe read every
five minutes at the edge of a bright, layered surface has trembled by 0.3 pH in health (Chalgrove Lake, Virginia,
May 2019, record of K. Fortino). Common practice, no source; set on public records.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import DAY_MS, MINUTE_MS
from dawnline.state import Stateful

WEIGHT: Final = 1 / 64  # of the newest difference in the running mean
BEGIN: Final = 64  # readings, the first to learn from
FIRST_MOST: Final = 0.75  # of the floor, which each of them counts for at the most
LATEST: Final = 20
MOST: Final = 12  # of the latest
MOST_SLOWLY: Final = 7  # of the latest of a slow probe with calm days, which are fewer
LATEST_SLOWLY: Final = 12
OF_A_SPIKE: Final = 3  # large differences
MOST_WATCHED: Final = 5  # of these, where a step in the series is another reason to look closely
RECENT: Final = 6
RESTLESS: Final = 4  # of the most recent: one spike makes three
RESTLESS_LEAPT: Final = 3
FEW: Final = 5  # with so few, noise is over
FEW_SLOWLY: Final = 3
DAYS_KNOWN: Final = 14
ODD: Final = 4.0  # times what is usual: more than this is learned as this
TIMES_USUAL: Final = 3.0
TIMES_USUAL_WATCHED: Final = 2.0
WATCHED: Final = 0.4  # of the floor, while there is another reason to look closely
LEAST_DAYS: Final = 4
TIMES_CALM: Final = 5.7
CALM: Final = 0.25  # of a slow probe's floor: the least it comes down to
FLICKER: Final = 0.5  # counts by which a day trembles at the most where its last digit turns over and nothing else
GRAINS: Final = 1.2  # a converter that flickers by one count trembles by half of it to one
# Floor in the quantity's unit for readings at most a minute apart, and for slower ones.
FLOORS: Final[dict[str, tuple[float, float]]] = {
    "ph": (0.04, 0.35),
    "electrode_mv": (2.4, 20.0),
    "temperature": (0.4, 0.8),
    "dissolved_oxygen": (0.4, 1.0),
}


class Noise(Stateful):
    """Restlessness of one series; feed it every value inside the instrument's span, in order of time."""

    KEPT = ("last", "before", "mean", "learned", "large", "noisy", "closely", "grain", "day", "first", "days")

    def __init__(self, quantity: str) -> None:
        self.floors = FLOORS.get(quantity)
        self.last: float | None = None
        self.before: float | None = None
        self.mean = 0.0
        self.learned = 0  # readings behind it, as long as they are few
        self.large: deque[int] = deque(maxlen=LATEST)  # 1 where the second difference was too large
        self.noisy = False
        self.closely = False  # it was found so by looking closely: then that goes on until it is over
        self.grain: float | None = None  # the smallest difference seen: the step of the converter
        self.day = self.first = 0  # the running one, and the one it began on, which is not whole
        self.days: list[float] = []  # the running mean at the end of each whole day

    def forget(self) -> None:
        """Begin anew; what is usual stays known."""
        self.last = self.before = None
        self.large.clear()
        self.noisy = False

    def push(
        self,
        at: int,
        value: float,
        interval: int | None,
        *,
        watched: bool = False,
        leapt: float = 0.0,
        one_way: bool = False,
    ) -> bool:
        """Take a value measured at `at` [ms]; whether the series is noisy now.

        `watched`: look closely. `leapt`: a slow probe has leapt so far; where its days have been calm it is looked at
        closely, below its level where it turns back: a dose of acid goes one way, however unevenly. `one_way`: it has
        not come up lately, so that an uneven fall is no trembling.
        """
        last, before = self.last, self.before
        self.last, self.before = value, last
        if self.floors is None or last is None or before is None:
            return False
        trembling = abs(value - last - last + before) / 2
        if value != last:
            self._see_grain(abs(value - last))
        day = at // DAY_MS
        if day != self.day:
            self._close_day(day)
        slow = interval is None or interval > MINUTE_MS
        floor = self._slow_floor() if slow else self.floors[0]
        watched = watched or (self.noisy and self.closely)
        if leapt and slow and floor < self.floors[1]:
            watched = watched or leapt > 0.0 or (value - last) * (last - before) < 0.0
        if watched:
            floor *= WATCHED
        elif trembling <= floor and not self.noisy and not self.large:
            self._learn(trembling)
            return False
        threshold = max(
            floor, (TIMES_USUAL_WATCHED if watched else TIMES_USUAL) * self.usual(), GRAINS * (self.grain or 0.0)
        )
        few, large = slow and floor < self.floors[1], trembling > threshold
        if large and one_way:  # acid falls unevenly
            large = max(value - last, last - before) > -threshold / 2
        apart = max(value, last, before) - min(value, last, before)
        if few and not self.noisy and apart <= max(threshold / 2, GRAINS * (self.grain or 0.0)):
            self._calm_again()
        return self._weigh(trembling, large=large, few=few, closely=watched)

    def restless(self, *, leapt: bool = False) -> bool:
        """Whether it trembles so that a level is not to be believed yet, though it is too soon to call it noisy.

        Of who has `leapt` lately, more calm is asked.
        """
        return sum(list(self.large)[-RECENT:]) >= (RESTLESS_LEAPT if leapt else RESTLESS)

    def usual_at(self, interval: int | None) -> float:
        """What is usual, and for a slow probe the most of these days."""
        if self.days and (interval is None or interval > MINUTE_MS):
            return max(self.days)
        return self.usual()

    def usual(self) -> float:
        """The median restlessness of the last days, that of today while no day is known."""
        days = sorted(self.days)
        return days[len(days) // 2] if days else self.mean

    def _slow_floor(self) -> float:
        """The floor for a slow probe: lower where its days have been calm."""
        assert self.floors is not None
        highest = self.floors[1]
        if len(self.days) < LEAST_DAYS:
            return highest
        most = max(self.days)
        flickers = most <= FLICKER * (self.grain or 0.0)
        return min(highest, max(CALM * highest, 0.0 if flickers else TIMES_CALM * most))

    def _calm_again(self) -> None:
        """Three readings of a slow probe agree: the large differences just before were spikes, each seen thrice."""
        run, latest = 0, self.large
        while run < len(latest) and latest[-1 - run]:
            run += 1
        if run >= OF_A_SPIKE:
            for back in range(1, run - (run + OF_A_SPIKE - 1) // OF_A_SPIKE + 1):
                latest[-back] = 0

    def _weigh(self, trembling: float, *, large: bool, few: bool, closely: bool) -> bool:
        latest = self.large
        latest.append(1 if large else 0)
        while few and len(latest) > LATEST_SLOWLY:
            latest.popleft()
        count, over, most = sum(latest), *((FEW_SLOWLY, MOST_SLOWLY) if few else (FEW, MOST))
        if few and closely:
            most = MOST_WATCHED
        self.noisy = count > over if self.noisy else count >= most
        self.closely = closely and self.noisy
        if not self.noisy and not closely:
            self._learn(trembling)
        if count == 0:
            latest.clear()
        return self.noisy

    def _learn(self, trembling: float) -> None:
        """What is usual; a spike, which makes three large differences, counts for little."""
        if self.learned < BEGIN:
            self._begin(trembling)
            return
        if trembling > ODD * self.mean:
            most = max(ODD * self.mean, self.grain or 0.0, self.floors[0] / 4 if self.floors else 0.0)
            trembling = min(trembling, most)
        self.mean += WEIGHT * (trembling - self.mean)

    def _begin(self, trembling: float) -> None:
        """The plain mean of the first readings; who trembles more than most probes do has its noise named so."""
        self.learned += 1
        most = max(FIRST_MOST * self.floors[0] if self.floors else 0.0, self.grain or 0.0)
        self.mean += (min(trembling, most) - self.mean) / self.learned

    def _see_grain(self, step: float) -> None:
        if step > 1e-6 and (self.grain is None or step < self.grain):
            self.grain = step

    def _close_day(self, day: int) -> None:
        if not self.day:
            self.first = day
        elif self.day != self.first:
            self.days.append(self.mean)
            del self.days[:-DAYS_KNOWN]
        self.day = day
