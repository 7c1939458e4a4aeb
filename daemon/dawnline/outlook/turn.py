"""A turn: pH that has come up again within a few readings falls no more, or never fell as water does.

Acid and breath take pH down one way, and what they took comes back over hours, were it ever so low. What a probe in the
air or on a bad plug loses it regains within minutes, and loses again. Common practice, no source; set on simulated
faults and doses of acid.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS
from dawnline.state import Stateful

WITHIN_MS: Final = 15 * MINUTE_MS
WITHIN: Final = 3  # readings of a slow probe
RISEN: Final = 0.1  # who came up by so much [pH] falls no more;
BOUNCED: Final = 0.35  # who came up by so much shows no fall of the night and no low pH
RISING: Final = 0.04  # who lies above its lowest by so much is on its way up,
RISING_HISS: Final = 2.0  # by so many times what it trembles by, and by more than one count
COUNTS: Final = 1.5  # of the converter
TIMES_HISS: Final = 4.0  # times what it usually trembles by
BOUNCED_MS: Final = HOUR_MS  # for so long; nor any fall who came up at all after a leap


class Turn(Stateful):
    """Follows one pH probe minute by minute; slow probes reading by reading."""

    KEPT = ("latest", "falling", "rose_at", "bounced_at")

    def __init__(self) -> None:
        self.latest: deque[tuple[int, float]] = deque()
        self.falling = True  # it has not come up lately, nor is it coming up
        self.rose_at: int | None = None  # when it last had come up [ms],
        self.bounced_at: int | None = None  # and far [ms]

    def forget(self) -> None:
        """Begin anew."""
        self.latest.clear()
        self.falling, self.rose_at, self.bounced_at = True, None, None

    def push(self, at: int, value: float, interval: int, *, grain: float, hiss: float) -> None:
        """Take one minute's pH; `interval` [ms] is how often the probe speaks.

        `grain` is one count of its converter, `hiss` how it usually trembles from one reading to the next [pH].
        """
        latest = self.latest
        latest.append((at, value))
        oldest = at - max(WITHIN_MS, WITHIN * interval)
        while latest[0][0] <= oldest:
            latest.popleft()
        low, risen = latest[0][1], 0.0
        for _, each in latest:
            if each < low:
                low = each
            elif each - low > risen:
                risen = each - low
        least = max(COUNTS * grain, TIMES_HISS * hiss)
        above = max(RISING, RISING_HISS * hiss, COUNTS * grain)
        self.falling = risen <= max(RISEN, least) and value - low <= above
        if risen > max(RISEN, least):
            self.rose_at = at
        if risen > max(BOUNCED, least):
            self.bounced_at = at

    def rose(self, at: int) -> bool:
        """Whether it had come up at all within the last hour before `at` [ms]."""
        return self.rose_at is not None and at - self.rose_at <= BOUNCED_MS

    def bounced(self, at: int) -> bool:
        """Whether it had come up far within the last hour before `at` [ms]."""
        return self.bounced_at is not None and at - self.bounced_at <= BOUNCED_MS
