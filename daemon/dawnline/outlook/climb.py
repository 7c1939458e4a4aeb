"""A climb where this pond does not climb: what falls back from it is no fall of the water.

When light fades everything in a pond breathes out CO2, and pH falls until dawn. A series that climbs while the usual
level of these hours falls or rests, and then comes down again, goes up and down by itself: a slow beat of the mains
does, and a reference that creeps. So a fall is not told of until it is much larger than the climb was; the limits go
on. A climb far quicker than water makes one, away from what is usual, upsets the series: a bulb that dries or an input
that hangs open goes up first as often as not, acid and breath never do. For hours no fall of it is told of, and for
one hour no low pH. Common practice, no source; set on simulated faults.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.outlook.smooth import Point
from dawnline.state import Stateful

LEAST: Final = 0.15  # pH climbed while the usual level does not rise
STEADY: Final = (0.01, 0.02)  # pH by which what does not rise usually may rise, within a quarter and within an hour
CLIMBED: Final = 0.4  # of the fall since: who has climbed more than this goes up and down,
CLIMB_COUNTS: Final = 1.5  # and by more than a last digit that turns over
SWUNG: Final = 0.1  # pH climbed within hours, more than is usual at these hours
HELD_MS: Final = 6 * HOUR_MS
UPSET: Final = 0.3  # pH climbed within an hour
UPSET_COUNTS: Final = 2.5
QUICK_MS: Final = HOUR_MS
QUICK_READINGS: Final = 4  # of a slow probe
JUMP: Final = 0.13  # pH from one reading of a slow probe to the next,
TIMES_HISS: Final = 6.0  # times what it usually trembles by,
TIMES_KNOWN: Final = 3.0  # and times the largest rise within a quarter of an hour that these weeks have seen
JUMP_GAP_MS: Final = 20 * MINUTE_MS
SPIKE: Final = 1 / 3  # of the jump: a spike comes back so near with the next reading
AWAY: Final = 0.5  # of the climb, by which it leads above what is usual
NO_FALL_MS: Final = 6 * HOUR_MS
NO_LOW_MS: Final = HOUR_MS


class Ordinary(NamedTuple):
    """What these weeks were like at this hour: usual falls [pH] over a quarter of an hour and an hour, the usual level,
    the largest rise within a quarter; how the probe trembles from one reading to the next; one count."""

    falls: tuple[float, ...]
    level: float
    rise: float
    hiss: float
    grain: float


class Climb(Stateful):
    """Follows the smoothed series of one pH probe."""

    KEPT = ("low", "low_at", "height", "top", "top_at", "newest", "newest_at", "jumped", "upset_at")

    def __init__(self) -> None:
        self.low = 99.0  # the lowest since pH last rose as it usually does at this hour
        self.low_at = 0  # when it was last so low [ms]
        self.height = 0.0  # how far it has climbed from there within hours [pH],
        self.top = 0.0  # to how far above what is usual [pH],
        self.top_at = 0  # and when [ms]
        self.newest = 0.0  # pH of the last minute that had a reading, not smoothed
        self.newest_at = 0
        self.jumped: tuple[float, ...] = ()  # the pH before a jump, which is a spike unless it stays away, and its size
        self.upset_at: int | None = None  # when it last climbed away from what is usual, far quicker than water [ms]

    def forget(self) -> None:
        """Begin anew; that it was upset is remembered."""
        self.low, self.height = 99.0, 0.0

    def seen_to(self) -> None:
        """The probe has been seen to, or calibrated: nothing of before counts against it."""
        self.forget()
        self.newest_at, self.jumped, self.upset_at = 0, (), None

    def push(self, point: Point, ordinary: Ordinary, interval: int, leap: float = 0.0) -> None:
        """Take one point; `interval` [ms] is how often the probe speaks, `leap` how far it leapt as on no day [pH]."""
        at, value, falls = point.at, point.value, ordinary.falls
        if value <= self.low or -falls[0] > STEADY[0] or -falls[1] > STEADY[1]:
            self.low, self.low_at = value, at
        climbed = value - self.low
        if climbed > self.height or at - self.top_at > HELD_MS:
            self.height, self.top, self.top_at = climbed, value - ordinary.level, at
        quick = climbed if at - self.low_at <= max(QUICK_MS, QUICK_READINGS * interval) else 0.0
        quick, least = max(quick, leap), max(UPSET, UPSET_COUNTS * ordinary.grain)
        if quick >= least and value - ordinary.level >= AWAY * quick:
            self.upset_at = point.newest_at
        if interval > MINUTE_MS:
            self._see_jump(point, ordinary)
        self.newest, self.newest_at = point.newest, point.newest_at

    def _see_jump(self, point: Point, ordinary: Ordinary) -> None:
        """A jump from one reading to the next upsets where the one after it does not bring it back."""
        if self.jumped and abs(point.newest - self.jumped[0]) > SPIKE * self.jumped[1]:
            self.upset_at = point.newest_at
        self.jumped, jump = (), point.newest - self.newest
        if jump < JUMP or point.newest_at - self.newest_at > JUMP_GAP_MS:
            return
        rise, grain = max(ordinary.rise - ordinary.grain, 0.0), ordinary.grain
        needed = max(TIMES_HISS * ordinary.hiss, TIMES_KNOWN * rise, UPSET_COUNTS * grain)
        if jump > needed and point.newest - ordinary.level >= AWAY * jump:
            self.jumped = (self.newest, jump)

    def falls_back(self, beyond: float, grain: float) -> bool:
        """Whether a fall to `beyond` [pH above what is usual] is mostly what was climbed; `grain` is one count [pH]."""
        return self.height >= max(LEAST, CLIMB_COUNTS * grain) and self.height > CLIMBED * (self.top - beyond)

    def upset(self, at: int, within: int) -> bool:
        """Whether it was upset `within` so long [ms] before `at`."""
        return self.upset_at is not None and at - self.upset_at <= within


def swung(rows: Sequence[tuple[float, float]], grain: float) -> bool:
    """Whether the points of some hours climbed by a fair part of what they then fell.

    `rows` are pH, and how much that is above what is usual, in order of time; `grain` is one count [pH].
    """
    climbed, low, low_beyond, high = 0.0, float("inf"), float("inf"), float("-inf")
    for value, beyond in rows:
        low, low_beyond, high = min(low, value), min(low_beyond, beyond), max(high, beyond)
        climbed = max(climbed, min(value - low, beyond - low_beyond))
    return climbed >= max(SWUNG, CLIMB_COUNTS * grain) and climbed > CLIMBED * (high - rows[-1][1])
