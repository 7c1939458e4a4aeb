"""A climb at hours at which this pond does not climb: what falls back from it is no fall of the water.

When light fades everything in a pond breathes out CO2, and pH falls until dawn. A series that climbs while the usual
level of these hours falls or rests, and then comes down again, goes up and down by itself: a slow beat of the mains
does, and a reference that creeps. So a fall is not told of until it is much larger than the climb was; the limits go
on. Common practice, no source; set on simulated faults.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import HOUR_MS
from dawnline.state import Stateful

LEAST: Final = 0.15  # pH climbed while the usual level does not rise
STEADY: Final = (0.01, 0.02)  # pH by which what does not rise usually may rise, within a quarter and within an hour
CLIMBED: Final = 0.4  # of the fall since: who has climbed more than this goes up and down,
CLIMB_COUNTS: Final = 1.5  # and by more than a last digit that turns over
HELD_MS: Final = 6 * HOUR_MS


class Climb(Stateful):
    """Follows the smoothed series of one pH probe."""

    KEPT = ("low", "height", "top", "top_at")

    def __init__(self) -> None:
        self.low = 99.0  # the lowest since pH last rose as it usually does at this hour
        self.height = self.top = 0.0  # how far it has climbed from there within hours, and to where [pH],
        self.top_at = 0  # and when [ms]

    def forget(self) -> None:
        """Begin anew."""
        self.low, self.height = 99.0, 0.0

    def push(self, at: int, value: float, falls: tuple[float, ...] | None) -> None:
        """Take one point [ms, pH].

        `falls` are the usual ones at this hour [pH], over a quarter of an hour and an hour; None while not known.
        """
        if falls is None:
            return
        if value < self.low or -falls[0] > STEADY[0] or -falls[1] > STEADY[1]:
            self.low = value
        if value - self.low > self.height or at - self.top_at > HELD_MS:
            self.height, self.top, self.top_at = value - self.low, value, at

    def falls_back(self, value: float, grain: float) -> bool:
        """Whether a fall to `value` [pH] is mostly what was climbed before; `grain` is one count [pH]."""
        return self.height >= max(LEAST, CLIMB_COUNTS * grain) and self.height > CLIMBED * (self.top - value)
