"""Doubt: what speaks against a pH probe although its readings look well.

Its twins, tests by hand, turning points that come late, a rise that is not water's, a rest where it never rests, a
level far from where it stood before it was ill.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.electrode.electrode import Electrode
from dawnline.outlook.hand import AGREES, Hand
from dawnline.outlook.regained import SMOOTH_READINGS, Regained
from dawnline.outlook.rest import Rest
from dawnline.outlook.rise import Rise
from dawnline.outlook.sick import Cause, Sick
from dawnline.outlook.slow import Slow
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay
from dawnline.outlook.twin import Twin
from dawnline.quality.judge import Judge
from dawnline.state import Stateful

EITHER_MS: Final = 15 * MINUTE_MS  # one way for so long, and 45 readings, whoever lost its level walks about no more


class Doubt(Stateful):
    """Gathers what contradicts one pH probe."""

    KEPT = ("slow", "rise", "hand", "twin", "rest", "regained")

    def __init__(self) -> None:
        self.slow = Slow()
        self.rise = Rise()
        self.hand = Hand()
        self.twin = Twin()
        self.rest = Rest()
        self.regained = Regained()

    def forget(self) -> None:
        """The probe has been seen to: begin anew."""
        self.slow.forget()
        self.rise.forget()
        self.hand.forget()
        self.twin.forget()
        self.rest.forget()
        self.regained.forget()

    def tested(self, at: int, difference: float) -> None:
        """A test by hand at `at` [ms] says so much less than the probe [pH]."""
        self.hand.push(at, difference)
        if abs(difference) <= AGREES:
            self.regained.forget()

    def push(self, point: Point, day: PondDay, usual: float | None, interval: int) -> bool:
        """Take one smoothed point with its pond day; whether the series has just come down from where it cannot be.

        `usual` and `interval` as `Rise.push` has them.
        """
        self.slow.push(point, day)
        return self.rise.push(point, day, usual, interval)

    def hear(self, judge: Judge, sick: Sick, electrode: Electrode, interval: int) -> tuple[int, float] | None:
        """Hear what a probe says that is not believed; when [ms] and what [pH] it says at the most, where that counts.

        Far below its level and one way for long enough, or still, it is the water. On a level that a step has shifted
        either that step or all before it was the instrument's: the pH is no higher than the higher of the two.
        """
        regained, step = self.regained, judge.step
        if not step.latest or not (step.lost or regained.level is not None):
            return None
        at, said = step.latest[-1]
        less = electrode.ph(said - step.shift)
        most = max(electrode.ph(said), less) if step.lost else less
        way = regained.hear(at, most, interval)
        settled = judge.ragged.long_settled(since=sick.began or 0)
        if regained.is_water(at, way, interval, settled=settled):
            regained.turned = False
            judge.believe()
            sick.forget()
        elif step.lost and step.shift and not regained.turned and way >= max(EITHER_MS, SMOOTH_READINGS * interval):
            return at, most
        return None

    def stands(self, at: int) -> bool:
        """Whether anything speaks against the probe at `at` [ms]."""
        twin, rise = self.twin, self.rise
        seen = twin.blamed or self.slow.shown or rise.since is not None or self.rest.since is not None
        return seen or self.regained.lost or self.hand.difference(at) is not None

    @property
    def overruled(self) -> bool:
        """Whether another probe is plainly right, so that this one judges no limit."""
        return self.twin.blamed and self.twin.decided

    @property
    def set_aside(self) -> bool:
        """Whether what this probe says now is no part of the night's course; what stands still has none."""
        return self.overruled or self.rise.since is not None or self.rest.since is not None

    def evidence(self, at: int) -> str:
        """What contradicts the probe, in words, beginning with the cause."""
        difference, twin, rise = self.hand.difference(at), self.twin, self.rise
        if difference is not None:
            more = "more" if difference > 0 else "less"
            far = "; so far off that no limit is judged by it" if self.hand.too_far(at) else ""
            return f"{Cause.APART_FROM_HAND_TEST}: it shows {abs(difference):.2f} {more} than the test by hand{far}"
        if rise.since is not None:
            return f"{Cause.ABSURD}: {rise.evidence()}"
        if self.rest.since is not None:
            return f"{Cause.FROZEN}: {self.rest.evidence(at)}"
        if self.regained.lost:
            return self.regained.evidence()
        if not twin.blamed:
            return f"{Cause.SLOW}: its highs and lows come later each day than they used to, and its swing is smaller"
        apart = max(twin.mean, twin.quick, key=abs)
        more = "more" if apart > 0 else "less"
        which = "" if twin.decided else "; which of them is wrong cannot be told"
        return f"{Cause.APART_FROM_TWIN}: it shows {abs(apart):.2f} {more} than it should beside it{which}"
