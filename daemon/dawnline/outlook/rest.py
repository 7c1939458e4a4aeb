"""Rest: a pH that stands still through hours in which this pond has moved on every day known.

The flat line (quality/flat.py) knows how long a probe's values ever rest, at any hour. Here the hours count: whoever
moves by a quarter of a unit between noon and dusk each day and stands still today has not stood still as ponds do. So a
value that rolls its last digit is found too, and one behind a converter of whole tenths, whose values rest for hours
in health. A day of clouds moves less, yet it moves. Thresholds: set on simulated ponds and on public records; no
source.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from typing import Final, TypeAlias

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.quality.flat import Flat
from dawnline.state import Stateful

Profile: TypeAlias = Mapping[str, list[tuple[float, ...]]]
"""Solar phase -> a day each, the newest last: falls, and in the last place the level [pH]."""

PHASES: Final = 48
ROLLING: Final = 2.2  # counts of the converter within which a last digit rolls
STILL: Final = 0.5
MOVES: Final = (4.0, 2.0)  # counts by which every day known has moved in these hours, where it rolls, where it is still
LEAST: Final = (0.12, 0.12)  # pH
SHORTEST_MS: Final = 4 * HOUR_MS
SHORTEST_SLOWLY_MS: Final = 8 * HOUR_MS  # of a probe that speaks less than once a minute
LONGEST_MS: Final = 20 * HOUR_MS
LEAST_DAYS: Final = 4
DAYS: Final = 7


class Rest(Stateful):
    """Watches one pH probe, minute by minute, against its days by solar phase."""

    KEPT = ("rolling", "still", "phase", "turns", "since", "moved")

    def __init__(self) -> None:
        self.rolling, self.still = (Flat(0.0, floor=DAY_MS, cap=DAY_MS, fail=DAY_MS) for _ in range(2))
        self.phase = -1
        self.turns: deque[int] = deque(maxlen=PHASES)  # when each of the last phases began [ms]
        self.since: int | None = None  # of the rest that is shown, None while none is
        self.moved = 0.0  # the least that an earlier day moved in these hours [pH]

    def forget(self) -> None:
        """Begin anew."""
        self.rolling.forget()
        self.still.forget()
        self.since = None

    def push(self, at: int, value: float, grain: float, phase: int, profile: Profile, *, slow: bool) -> None:
        """Take one minute's pH. `grain` is one count of the converter [pH], `profile` what the days were like."""
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
                self._weigh(at, grain, profile, SHORTEST_SLOWLY_MS if slow else SHORTEST_MS)

    def _weigh(self, at: int, grain: float, profile: Profile, shortest: int) -> None:
        for rest, moves, least in zip((self.rolling, self.still), MOVES, LEAST, strict=True):
            if shortest <= at - rest.since <= LONGEST_MS:
                whole = sum(turn >= rest.since for turn in self.turns) - 1
                moved = _least_move(self.phase, whole, profile)
                if moved is not None and moved >= max(least, moves * grain):
                    self.since, self.moved = rest.since, moved
                    return


def _least_move(phase: int, count: int, profile: Profile) -> float | None:
    """How far the stillest earlier day moved over the `count` phases before this one; None with too few days.

    The last entry of each of these phases is today's.
    """
    rows = [profile.get(str((phase - back) % PHASES), []) for back in range(1, count + 1)]
    days = min([DAYS, *(len(row) - 1 for row in rows)])
    if count < 2 or days < LEAST_DAYS:
        return None
    levels = [[row[-1 - day][-1] for row in rows] for day in range(1, days + 1)]
    return min(max(each) - min(each) for each in levels)
