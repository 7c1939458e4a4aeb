"""Several pH probes on one pond vote, and disagree openly.

Each probe is compared with the median of the others, less the difference that was usual between them on their first
day together (one hangs higher, one nearer the inflow). Two probes cannot outvote each other: the one that is unlike its
own past at this hour of the sun is named, and where neither is plainly so, both are. Who was once plainly wrong is so
until they agree again for half an hour: what walks about passes by the right value. Who came apart slowly, as a
reference drifts, must agree for hours, and after a day the past tells no more which of them is wrong, as it is their
present by then: what was found stays found until they move apart anew, or one has gone far from its past and the other
has not. Where the others are silent that stands for an hour; then there is nobody to compare with. A probe whose value
rests longer than it usually does clears nobody and accuses nobody: a real fall beside a frozen twin is a fall. One that
has stopped (rest.py) or is ill by its own signs is the one that is wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import Final, Protocol

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.state import Stateful

APART: Final = 0.3  # pH, of an hour's mean; twins that were calibrated together keep within 0.1. No source
FIRST_APART: Final = 0.5  # while the usual difference is not known
QUICKLY_APART: Final = 0.4  # of some minutes' mean
QUICK_MINUTES: Final = 10
QUICK_READINGS: Final = 4  # of a slow probe: one odd reading stands for its whole interval
TOGETHER_AGAIN: Final = 0.2
TOGETHER_MINUTES: Final = 30
TOGETHER_SLOWLY_MINUTES: Final = 360  # of the hour's mean, for those that came apart slowly
MOVING_APART: Final = 0.2  # pH between the mean of some minutes and that of the hour
TOLD_MS: Final = DAY_MS  # after they moved apart: the past tells which of them is wrong
LONELY_MINUTES: Final = 60
HOURS_TO_LEARN: Final = 24
MINUTES_IN_MEAN: Final = 60
MINUTES_IN_DAY: Final = 1440  # in which a height that it came down from is forgotten
LEAST_MINUTES: Final = 30
PLAINLY_UNLIKE: Final = 0.15  # pH from what is usual at this hour, and twice as much as the other,
OVERTURNS: Final = 0.45  # and who drifts on until then, whatever was found at first


class Twin(Stateful):
    """What one probe's twins say of it."""

    KEPT = (
        *("first", "hour", "usual", "mean", "quick", "beyond", "minutes", "together", "lonely", "height", "witnessed"),
        *("apart", "slowly", "moved_at", "blamed", "decided"),
    )

    def __init__(self) -> None:
        self.first: list[float] = []
        self.hour = 0
        self.usual: float | None = None
        self.mean = 0.0  # of the last hour [pH]
        self.quick = 0.0  # of the last minutes
        self.witnessed = False  # the others move as they usually do
        self.height = 0.0  # the highest of these means, forgotten within a day
        self.beyond = 0.0  # now
        self.minutes = 0
        self.together = 0  # minutes for which they have agreed again
        self.lonely = 0  # minutes for which the others have been silent
        self.apart = False
        self.slowly = False  # by the hour's mean alone
        self.moved_at = 0  # when they last moved apart, or were not apart [ms]
        self.blamed = False  # it is this probe that is wrong, as far as can be told
        self.decided = False  # and its twin is not

    def forget(self) -> None:
        """A probe has been seen to, or hangs elsewhere: begin anew."""
        self.first.clear()
        self.usual = None
        self.alone()

    def shift(self, change: float) -> None:
        """From now on this probe shows `change` pH more beside the others, and is no other for it."""
        self.first = [each + change for each in self.first]
        self.usual = None if self.usual is None else self.usual + change

    def silent(self) -> None:
        """A minute in which nobody could be compared with."""
        self.lonely += 1
        if self.lonely > LONELY_MINUTES:
            self.alone()

    def alone(self) -> None:
        """There is nobody to compare with."""
        self.mean = self.quick = self.beyond = self.height = 0.0
        self.minutes = self.together = self.lonely = 0
        self.apart = self.slowly = self.blamed = self.decided = False

    @property
    def open(self) -> bool:
        """Whether they have just come apart: who is right will be known within minutes."""
        return not self.apart and self.usual is not None and abs(self.beyond) > QUICKLY_APART

    @property
    def agrees(self) -> bool:
        """Whether the others, who move as they usually do, say the same: what they say is the water."""
        return self.usual is not None and self.witnessed and not self.apart and abs(self.beyond) <= TOGETHER_AGAIN

    @property
    def unshared(self) -> float:
        """How far this probe has come down beside others that move [pH]: no fall of the water."""
        return self.height - min(self.mean, self.quick) if self.usual is not None and self.witnessed else 0.0

    def push(self, at: int, difference: float, interval: int = MINUTE_MS) -> None:
        """Take one minute's difference from the twins [pH], `interval` [ms] that of the slowest of them."""
        if self.usual is None and at // HOUR_MS != self.hour:
            self.hour = at // HOUR_MS
            self.first.append(difference)
            if len(self.first) >= HOURS_TO_LEARN:
                self.usual = usual = median(self.first)
                self.first.clear()
                self.mean, self.quick, self.height = self.mean - usual, self.quick - usual, self.mean - usual
        self.minutes, self.lonely = min(self.minutes + 1, MINUTES_IN_MEAN), 0
        quick = max(QUICK_MINUTES, QUICK_READINGS * interval // MINUTE_MS)
        self.beyond = beyond = difference - (self.usual or 0.0)
        self.mean += (beyond - self.mean) / self.minutes
        self.quick += (beyond - self.quick) / min(self.minutes, quick)
        self.height = max(self.mean, self.height + (self.mean - self.height) / MINUTES_IN_DAY)
        if not self.apart or abs(self.quick - self.mean) > MOVING_APART:
            self.moved_at = at
        if self.apart:
            self._come_together()
        elif self.usual is None:
            self.apart = abs(self.mean) > FIRST_APART and self.minutes >= LEAST_MINUTES
        else:
            quickly = abs(self.quick) > QUICKLY_APART and self.minutes >= quick
            self.apart = quickly or (abs(self.mean) > APART and self.minutes >= LEAST_MINUTES)
            self.slowly = not quickly

    def _come_together(self) -> None:
        self.slowly = self.slowly and abs(self.quick) <= QUICKLY_APART
        now, needed = (self.mean, TOGETHER_SLOWLY_MINUTES) if self.slowly else (self.quick, TOGETHER_MINUTES)
        self.together = self.together + 1 if abs(now) <= TOGETHER_AGAIN else 0
        if self.together >= needed:
            self.apart = self.blamed = self.decided = False
            self.mean, self.together = self.quick, 0


class Compared(Protocol):
    """A pH probe as this room needs it."""

    current: float | None

    @property
    def interval(self) -> int:
        """How often it speaks [ms]."""

    @property
    def twin(self) -> Twin:
        """What the others say of it."""

    def live(self, at: int) -> bool:
        """Whether `current` is recent."""

    def unlike(self) -> float | None:
        """How far `current` lies from what this probe usually says at this hour of the sun [pH]."""

    def moves(self, at: int) -> bool:
        """Whether it rests no longer than it usually does."""

    @property
    def faulty(self) -> bool:
        """Whether it is plainly ill by its own signs, or stands still while it should move."""

    @property
    def leapt_at(self) -> int | None:
        """When it last leapt between two readings [ms], which alone moves no water; None where not lately."""

    def beside(self, at: int, value: float | None, interval: int) -> None:
        """What the others, who speak each `interval` [ms], say this minute [pH]; None where they are not believed."""


def calibrated(probes: Sequence[Compared], which: Compared, change: float) -> None:
    """One probe, `which`, shows `change` pH more from now on: what was usual beside it moves along with it."""
    for probe in probes:
        beside = [(each, each.current) for each in probes if each is not probe and each.current is not None]
        if probe is which or all(each is not which for each, _ in beside):
            continue
        before = median(value for _, value in beside)
        after = median(value + (change if each is which else 0.0) for each, value in beside)
        probe.twin.shift(before - after)


def compare(probes: Sequence[Compared], at: int) -> None:
    """One minute: each live probe with the others."""
    slowest = max((probe.interval for probe in probes), default=MINUTE_MS)
    live = [(probe, probe.current) for probe in probes if probe.current is not None and probe.live(at)]
    if len(live) < 2:
        for probe in probes:
            if not probe.faulty and all(each.faulty for each in probes if each is not probe):
                probe.twin.alone()
            else:
                probe.twin.silent()
        return
    for probe, value in live:
        others_say = median(other for each, other in live if each is not probe)
        well = not any(each.faulty for each, _ in live if each is not probe)
        odd = any(each.leapt_at is not None or each.twin.decided for each, _ in live if each is not probe)
        probe.beside(at, others_say if well and not odd else None, slowest)
        probe.twin.witnessed = well and all(each.moves(at) for each, _ in live if each is not probe)
        probe.twin.push(at, value - others_say, slowest)
    for probe, _ in live:
        others = [each for each, _ in live if each is not probe]
        _judge(probe, others, at)


def _judge(probe: Compared, others: Sequence[Compared], at: int) -> None:
    """Whether it is this probe that is wrong; once plainly so, until they agree again or the contrary is plain."""
    twin = probe.twin
    told = at - twin.moved_at <= TOLD_MS
    others_ill = all(each.faulty for each in others) and not probe.faulty
    cleared = all(_plainly(each, at, than=probe, least=PLAINLY_UNLIKE if told else OVERTURNS) for each in others)
    if twin.decided and twin.apart and not cleared and (told or not others_ill):
        return
    cleared = cleared or all(each.twin.decided and each.twin.apart for each in others)
    cleared = (cleared and not probe.faulty) or others_ill
    twin.blamed = twin.apart and not cleared
    twin.decided = twin.blamed and (len(others) > 1 or probe.faulty or _plainly(probe, at, than=others[0]))


def _plainly(probe: Compared, at: int, *, than: Compared, least: float = PLAINLY_UNLIKE) -> bool:
    """Whether one probe is unlike its past, by `least` [pH] or more, and the other is not.

    Who has leapt is so even beside one that rests a while longer than usual, if that is not plainly frozen.
    """
    mine, theirs = probe.unlike(), than.unlike()
    alive = than.moves(at) or (probe.leapt_at is not None and not than.faulty)
    known = mine is not None and theirs is not None and alive
    return known and mine > least and mine > 2 * theirs  # type: ignore[operator]
