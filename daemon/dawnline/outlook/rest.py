"""Rest: a pH that stands still through hours in which this pond has moved on every day known.

The flat line (quality/flat.py) knows how long a probe's values ever rest, at any hour. Here the hours count: whoever
moves by a quarter of a unit between noon and dusk each day and stands still today has not stood still as ponds do. So a
value that rolls its last digit is found too, and one behind a converter of whole tenths, whose values rest for hours
in health. A day of clouds moves less, yet it moves; the night after it has nothing to fall from: where the value lies
already as low as these hours left it on other days, its rest accuses nobody. And where another pH probe hangs beside it
no day need be known: what moves the one moves the other. Thresholds: set on simulated ponds and on public records; no
source.

A rest that is twice as long as any that this probe has shown these weeks needs less of the days. Where the hiss of the
circuit is wider than a rest, one that is six times as long needs nothing of them: no water takes that hiss away.
"""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS, show_duration
from dawnline.outlook.sun import PHASES
from dawnline.outlook.usual import Profile
from dawnline.quality.flat import OF_A_REST, Flat
from dawnline.state import Stateful

ROLLING: Final = 2.2  # counts of the converter within which a last digit rolls
STILL: Final = 0.5
MOVES: Final = (4.0, 2.0)  # counts by which every day known has moved in these hours, where it rolls, where it is still
LEAST: Final = (0.12, 0.12)  # pH
MUCH_LONGER: Final = 6.0  # times as long as it ever rested these weeks: then nothing need have moved,
HISS: Final = 1.0  # where it usually trembles by so many counts from one reading to the next
LONGER: Final = 2.0  # times as long as it ever rested these weeks: then days that moved less will do
MOVES_LONGER: Final = (3.0, 0.5)  # counts
LEAST_LONGER: Final = (0.08, 0.0)  # pH
SHORTEST_MS: Final = 4 * HOUR_MS
SHORTEST_SLOWLY_MS: Final = 8 * HOUR_MS  # of a probe that speaks less than once a minute
LONGEST_MS: Final = 20 * HOUR_MS
BESIDE: Final = (4.0, 2.5)  # counts by which the probe beside it has moved meanwhile, where this one rolls, is still
LEAST_BESIDE: Final = 0.12  # pH
SMOOTHED: Final = 1 / 15  # of the newest minute in the value beside it, at the most; one odd reading of a slow probe
READINGS: Final = 6  # stands for its whole interval: so many smooth it
SETTLES: Final = 2.0  # times as long as it is smoothed over: then it lags behind nothing of before
KNOWN_MS: Final = 4 * DAY_MS  # rests are learned up to a quarter of this
LEAST_DAYS: Final = 4
DAYS: Final = 7


class Rest(Stateful):
    """Watches one pH probe, minute by minute, against its days by solar phase."""

    KEPT = ("rolling", "still", "phase", "turns", "since", "moved", "beside", "ranges", "besides", "longest")

    def __init__(self) -> None:
        self.rolling, self.still = (Flat(0.0, floor=KNOWN_MS, cap=KNOWN_MS, fail=KNOWN_MS) for _ in range(2))
        self.phase = -1
        self.turns: deque[int] = deque(maxlen=PHASES)  # when each of the last phases began [ms]
        self.since: int | None = None  # of the rest that is shown, None while none is
        self.moved = 0.0  # the least that an earlier day moved in these hours, or the probe beside it [pH]
        self.beside: float | None = None  # smoothed, what the probe beside it says [pH] ...
        self.ranges = [(0, 0.0, 0.0)] * 2  # ... its lowest and highest since each rest began
        self.besides = False  # it is by the probe beside it that the rest is shown
        self.longest = 0  # the longest rest before, where that alone shows it [ms]

    def forget(self) -> None:
        """Begin anew."""
        self.rolling.forget()
        self.still.forget()
        self.since = self.beside = None

    def push(
        self, at: int, value: float, grain: float, phase: int, profile: Profile, *, slow: bool, hiss: float = 0.0
    ) -> None:
        """Take one minute's pH. `profile` is what the days were like.

        `grain` is one count of the converter [pH], `hiss` how it usually trembles from one reading to the next [pH].
        """
        if grain <= 0:
            return
        self.rolling.tolerance, self.still.tolerance = ROLLING * grain, STILL * grain
        self.rolling.push(at, value)
        self.still.push(at, value)
        if self.since is not None and self.since < self.rolling.since:
            self.since = None
        if phase != self.phase:
            self.phase = phase
            self.turns.append(at)
            if self.since is None:
                hisses = not slow and hiss >= HISS * grain
                self._weigh(at, value, grain, profile, SHORTEST_SLOWLY_MS if slow else SHORTEST_MS, hisses=hisses)

    def compare(self, at: int, beside: float | None, grain: float, interval: int = MINUTE_MS) -> None:
        """Take one minute's pH of the probe beside it, which speaks each `interval` [ms].

        `grain` is one count of the own converter [pH].

        None where the probe beside it is not to be believed: what it said until then does not count.
        """
        if beside is None:
            self.beside, self.ranges = None, [(0, 0.0, 0.0)] * 2
            return
        weight = min(SMOOTHED, MINUTE_MS / (READINGS * interval))
        self.beside = value = beside if self.beside is None else self.beside + weight * (beside - self.beside)
        for i, (rest, counts) in enumerate(zip((self.rolling, self.still), BESIDE, strict=True)):
            began, low, high = self.ranges[i]
            lags = at - rest.since < SETTLES * MINUTE_MS / weight  # behind what was before the rest
            low, high = (min(low, value), max(high, value)) if began == rest.since and not lags else (value, value)
            self.ranges[i] = (rest.since, low, high)
            moved = high - low
            enough = grain > 0 and moved >= max(LEAST_BESIDE, counts * grain)
            if enough and self.since is None and SHORTEST_MS <= at - rest.since <= LONGEST_MS:
                self.since, self.moved, self.besides, self.longest = rest.since, moved, True, 0

    def evidence(self, at: int) -> str:
        """The rest that is shown, in words."""
        still = f"it has stood still for {show_duration(at - (self.since or at))}"
        if self.besides:
            return f"{still}, while the probe beside it moved by {self.moved:.2f}"
        if self.longest:
            return f"{still}, and in these weeks never for longer than {show_duration(self.longest)}"
        return f"{still}, in hours in which earlier days moved by {self.moved:.2f}"

    def _weigh(self, at: int, value: float, grain: float, profile: Profile, shortest: int, *, hisses: bool) -> None:
        for i, rest in enumerate((self.rolling, self.still)):
            if shortest <= at - rest.since <= LONGEST_MS:
                whole = sum(turn >= rest.since for turn in self.turns) - 1
                moved = _least_move(self.phase, whole, value, profile)
                longest = max(rest.learned, rest.learned_before) / OF_A_REST  # as it is below a quarter of the cap
                longer = longest < KNOWN_MS / OF_A_REST and at - rest.since >= LONGER * longest
                much = hisses and longer and 0 < MUCH_LONGER * longest <= at - rest.since
                moves, least = (MOVES_LONGER[i], LEAST_LONGER[i]) if longer else (MOVES[i], LEAST[i])
                if moved is not None and (much or moved >= max(least, moves * grain)):
                    self.since, self.moved, self.besides = rest.since, moved, False
                    self.longest = round(longest) if much else 0
                    return


def _least_move(phase: int, count: int, value: float, profile: Profile) -> float | None:
    """How far the stillest earlier day moved over the `count` phases before this one; None with too few days.

    0.0 where these hours fell, and `value` lies already where they ended. The last entry of each phase is today's.
    """
    rows = [profile.get(str((phase - back) % PHASES), []) for back in range(1, count + 1)]
    days = min([DAYS, *(len(row) - 1 for row in rows)])
    if count < 2 or days < LEAST_DAYS:
        return None
    levels = [[row[-1 - day][-1] for row in rows] for day in range(1, days + 1)]
    ends, begins = median(each[0] for each in levels), median(each[-1] for each in levels)
    if value <= ends < begins:
        return 0.0
    return min(max(each) - min(each) for each in levels)
