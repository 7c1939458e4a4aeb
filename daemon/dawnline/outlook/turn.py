"""A turn: pH that has come up again within a few readings falls no more, or never fell as water does.

Acid and breath take pH down one way, and what they took comes back over hours, were it ever so low. What a probe in the
air or on a bad plug loses it regains within minutes, and loses again. So a fall that comes up is none; after a rise as
no day of these weeks had one a low pH is not believed for a while, nor after a leap down that came up and went down
again. Common practice, no source; set on simulated faults and doses of acid.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.state import Stateful

WITHIN_MS: Final = 15 * MINUTE_MS
WITHIN: Final = 3  # readings of a slow probe
RISEN: Final = 0.1  # who came up by so much [pH] falls no more;
BOUNCED: Final = 0.35  # who came up by so much, and more than ever in an hour, shows no fall of the night and no low pH
AGAIN: Final = 0.05  # who came up and went down again by so much [pH] goes up and down
RISING: Final = 0.04  # who lies above its lowest by so much is on its way up and drops no more,
RISING_HISS: Final = 2.0  # by so many times what it trembles by, and by more than one count
COUNTS: Final = 1.5  # of the converter
TIMES_HISS: Final = 4.0  # times what it usually trembles by
HELD_MS: Final = HOUR_MS  # for so long,
HELD: Final = 12  # or for so many readings, where it came up
AWAY: Final = 0.15  # by so much above what is usual at the hour: who is back there may have been ill before


class Turn(Stateful):
    """Follows one pH probe minute by minute; slow probes reading by reading."""

    KEPT = ("latest", "falling", "lowest", "rose_until", "bounced_until", "again_at")

    def __init__(self) -> None:
        self.latest: deque[tuple[int, float]] = deque()
        self.falling = True  # it has not come up lately,
        self.lowest = True  # nor lies above the lowest of that time
        self.rose_until = 0  # until when it counts that it had come up [ms],
        self.bounced_until = 0  # and far
        self.again_at = 0  # when it last went down again after it had come up [ms]

    def forget(self) -> None:
        """Begin anew."""
        self.latest.clear()
        self.falling, self.lowest, self.rose_until, self.bounced_until, self.again_at = True, True, 0, 0, 0

    def push(
        self, at: int, value: float, interval: int, *, grain: float, hiss: float, known: float = 0.0, usual: float = 0.0
    ) -> None:
        """Take one minute's pH; `interval` [ms] is how often the probe speaks.

        `grain` is one count of its converter, `hiss` how it usually trembles from one reading to the next, `known` the
        largest rise within an hour of these weeks, `usual` the level at this hour [pH].
        """
        latest = self.latest
        latest.append((at, value))
        oldest = at - max(WITHIN_MS, WITHIN * interval)
        while latest[0][0] <= oldest:
            latest.popleft()
        low = high = latest[0][1]
        risen = again = 0.0
        for _, each in latest:
            if each > high:
                high = each
                risen = max(risen, high - low)
                continue
            if high - each > again and high - low > RISEN:
                again = high - each
            if each < low:
                low = high = each
        least, rising = max(COUNTS * grain, TIMES_HISS * hiss), max(RISING_HISS * hiss, COUNTS * grain)
        self.falling, self.lowest = risen <= max(RISEN, least), value - low <= max(RISING, rising)
        if risen <= RISEN:  # as nearly always
            return
        until = at + max(HELD_MS, HELD * interval)
        if risen > max(RISEN, least):
            self.rose_until = until
            if again > max(AGAIN, rising):
                self.again_at = at
        if risen > max(BOUNCED, least, known):
            self.bounced_until = until if high > usual + AWAY else max(self.bounced_until, at + HELD_MS)

    def rose(self, at: int) -> bool:
        """Whether it had come up at all within the last hour before `at` [ms] (of a slow probe longer)."""
        return at <= self.rose_until

    def bounced(self, at: int) -> bool:
        """Whether it had come up far within the last hour before `at` [ms] (of a slow probe longer)."""
        return at <= self.bounced_until
