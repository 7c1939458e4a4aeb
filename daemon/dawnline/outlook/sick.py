"""A sick probe: what is wrong is named by a cause from a closed list.

A cause is a guess at the instrument from the signs it gives by itself, most of them the reasons that quality/ flags its
readings with. What contradicts a probe from outside (a twin, tests by hand, its own past) is asked in doubt.py.
"""

from __future__ import annotations

from collections import Counter, deque
from enum import StrEnum
from typing import Final

from dawnline.duration import HOUR_MS, MINUTE_MS, show_duration
from dawnline.outlook.finding import Condition
from dawnline.quality.judge import Judge
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason
from dawnline.state import Stateful

LATEST: Final = 10
MOST_BAD: Final = 6
# A shorted or flooded electrode gives no voltage: 0 mV, of which an interface makes pH 7. Value, and within what.
SHORTED: Final = {"ph": (7.0, 0.06), "electrode_mv": (0.0, 3.5)}
LEFT_MS: Final = HOUR_MS
LEFT_READINGS: Final = 12  # of a slow probe: by then it has shown whether it trembles
TOGETHER_MS: Final = 10 * MINUTE_MS  # a thermometer that moves within this time of the pH probe hangs beside it
DRIES_MS: Final = 30 * MINUTE_MS  # in the air a wet film keeps a bulb quiet for so long; the thermometer leaps at once


class Cause(StrEnum):
    """What seems to be wrong with a probe."""

    FROZEN = "frozen"
    NOISY = "noisy"
    JUMPED = "jumped"
    OUT_OF_WATER = "out of water"
    APART_FROM_TWIN = "drifting from its twin"
    APART_FROM_HAND_TEST = "drifting from the hand test"
    SLOW = "slow"
    WIRE = "wire"
    ABSURD = "absurd"


_CAUSES: Final = {
    Reason.OUT_OF_SPAN: Cause.WIRE,
    Reason.UNUSUAL: Cause.ABSURD,
    Reason.SPIKE: Cause.NOISY,
    Reason.NOISY: Cause.NOISY,
    Reason.SHIFTED: Cause.JUMPED,
    Reason.FLAT: Cause.FROZEN,
    Reason.ATTENUATED: Cause.SLOW,
    Reason.TOO_FAST: Cause.NOISY,
}
# One verdict of these checks rests on many readings: it need not be repeated to be believed.
_ODD: Final = frozenset((Reason.SPIKE, Reason.TOO_FAST))
_SURE: Final = frozenset((Reason.FLAT, Reason.ATTENUATED, Reason.NOISY, Reason.SHIFTED))
_BAD: Final = frozenset((Flag.SUSPECT, Flag.FAIL))


class Sick(Stateful):
    """Watches how many of one probe's latest readings can be believed, and why not."""

    KEPT = ("latest", "value", "began", "air_at", "odd_at", "left_at", "moved_at")

    def __init__(self, quantity: str = "ph") -> None:
        self._shorted = SHORTED.get(quantity)
        self._quantity = QUANTITIES[quantity]
        self.latest: deque[int] = deque(maxlen=LATEST)  # the reason of each reading, 0 for a good one
        self.value = 0.0
        self.began: int | None = None  # since when it has been sick
        self.air_at: int | None = None  # when a thermometer moved along
        self.odd_at: int | None = None  # time of the last reading far from its neighbours
        self.left_at: int | None = None  # when a thermometer leapt beside one
        self.moved_at: int | None = None  # when a thermometer last moved faster than water does

    def push(self, at: int, value: float, flag: Flag, reason: Reason) -> None:
        """Take one verdict."""
        bad = flag in _BAD
        self.latest.append(int(reason) if bad else 0)
        self.value = value
        if not bad and self.began is None:  # as nearly always
            return
        if reason in _ODD and bad:
            self.odd_at = at
            if self.moved_at is not None and at - self.moved_at <= DRIES_MS:
                self.left_at = at
        if self.began is None:
            if self._bad() >= MOST_BAD or self.sure:
                self.began = at
        elif self._bad() == 0:
            self.began = None

    def forget(self) -> None:
        """Begin anew: what the probe said before it was seen to does not count against it."""
        self.latest.clear()
        self.began = self.air_at = self.odd_at = self.left_at = self.moved_at = None

    def thermometer_moved(self, at: int) -> None:
        """A thermometer on the same pond has moved faster than water does, at `at` [ms]."""
        self.moved_at = at
        if self.began is not None and abs(at - self.began) <= TOGETHER_MS:
            self.air_at = at
        if self.odd_at is not None and abs(at - self.odd_at) <= TOGETHER_MS:
            self.left_at = at

    def left(self, at: int, judge: Judge) -> bool:
        """Whether it seems to have left the water within the last hour, by one odd reading and a thermometer."""
        return _lately(self.left_at, at, judge)

    def beside_a_leap(self, at: int, judge: Judge) -> bool:
        """Whether a thermometer of this pond leapt within the last hour: what hangs beside it may be in the air."""
        return _lately(self.moved_at, at, judge)

    def condition(self, at: int, judge: Judge) -> Condition:
        """MET with six of the last ten readings bad, the latest on a sure sign, or a step to wonder at."""
        bad = self._bad()
        if bad >= MOST_BAD or self.sure or judge.step.wondered(at):
            return Condition.MET
        if self.left(at, judge) or judge.came_up(at):
            return Condition.MET
        return Condition.CLEAR if bad <= 1 else Condition.BETWEEN

    @property
    def sure(self) -> bool:
        """Whether the newest reading bears one of the sure signs."""
        return bool(self.latest) and self.latest[-1] in _SURE

    def untold(self, at: int, judge: Judge) -> bool:
        """Whether its readings are so bad that the odd good one among them says nothing of the pond.

        So are those of a probe that left the water: no pond warms or cools by a degree within ten minutes.
        """
        latest = self.latest
        bad = self._bad() - latest.count(Reason.SHIFTED)
        return bad >= MOST_BAD or (bool(latest) and latest[-1] == Reason.NOISY) or self.left(at, judge)

    def cause(self) -> Cause:
        """The likeliest cause, from the signs so far."""
        counts = Counter(reason for reason in self.latest if reason)
        if not counts:
            return Cause.ABSURD
        latest = self.latest[-1]
        cause = _CAUSES.get(Reason(latest if latest in _SURE else counts.most_common(1)[0][0]), Cause.ABSURD)
        if cause in (Cause.JUMPED, Cause.FROZEN) and self._shorted is not None:
            shorted, within = self._shorted
            if abs(self.value - shorted) <= within:
                return Cause.WIRE
        if cause in (Cause.JUMPED, Cause.NOISY) and self.air_at is not None:
            return Cause.OUT_OF_WATER
        return cause

    def evidence(self, at: int, judge: Judge) -> str:
        """What is wrong, in words, beginning with the cause."""
        bad, cause = self._bad(), self.cause()
        if bad < MOST_BAD and not self.sure:
            if judge.step.wondered(at) and not judge.came_up(at):
                return f"{Cause.JUMPED}: it shifted by {self._shift(judge.step.size)} from one reading to the next"
            if self.left(at, judge):
                return f"{Cause.OUT_OF_WATER}: pH and temperature leapt together, as a probe does that leaves the water"
            if judge.came_up(at):
                leap = self._shift(judge.step.leap)
                return f"{Cause.NOISY}: it leapt by {leap} between two readings and came up again, as water does not"
            if bad <= 1:
                return "its readings can be believed again"
        since = f"; it began {show_duration(at - self.began)} ago" if self.began is not None and at > self.began else ""
        if cause is Cause.OUT_OF_WATER:
            return f"{cause}: pH and temperature moved together, as a probe does that leaves the water{since}"
        return f"{cause}: {self._sign(at, judge, bad)}{since}"

    def _sign(self, at: int, judge: Judge, bad: int) -> str:
        latest, step = Reason(self.latest[-1]), judge.step
        match latest:
            case Reason.FLAT:
                return f"it has shown {self.value:g} for {show_duration(at - judge.flat.since)}"
            case Reason.ATTENUATED:
                return "it hardly moves over a day and night, while the light should move it"
            case Reason.NOISY:
                return "it trembles from one reading to the next as water does not"
            case Reason.SHIFTED:
                limits = (
                    "limits cannot be judged" if step.lost else f"limits are judged less {self._shift(step.offset)}"
                )
                return f"the reading shifted by {self._shift(step.size)} within one sample, as water does not; {limits}"
        commonest = Reason(Counter(reason for reason in self.latest if reason).most_common(1)[0][0])
        return f"{bad} of the last {len(self.latest)} readings are not good ({commonest.label})"

    def _shift(self, size: float) -> str:
        unit = self._quantity.unit
        return f"{size:+.2f}" if unit == "pH" else f"{size:+.{self._quantity.decimals}f} {unit}"

    def _bad(self) -> int:
        return len(self.latest) - self.latest.count(0)


def _lately(then: int | None, at: int, judge: Judge) -> bool:
    """Whether it was within the last hour, or the last readings of a slow probe."""
    return then is not None and at - then <= max(LEFT_MS, LEFT_READINGS * (judge.order.interval or 0))
