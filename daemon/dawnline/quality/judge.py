"""All checks of one series, rolled up into one flag.

Roll-up as QARTOD does it: the worst of `fail`, `suspect`, `good` counts; a check that cannot judge (`not evaluated`)
hides none of these, and a reading no check could judge is `not evaluated`. Unlike there, the checks stand in a row:
what is no measurement (out of order, out of span or of what a pond shows, a spike, trembling) is shown to no later
check: it neither proves a frozen probe alive nor is anything compared with it, and a stretch of it is a gap.
"""

from __future__ import annotations

from typing import ClassVar, Final

from dawnline.duration import DAY_MS
from dawnline.quality.attenuated import Attenuated
from dawnline.quality.climatology import Climatology
from dawnline.quality.flat import FLICKERS_MS, Flat
from dawnline.quality.gap import Gap
from dawnline.quality.noise import Noise
from dawnline.quality.order import Order
from dawnline.quality.ragged import Ragged
from dawnline.quality.rate import Rate
from dawnline.quality.settings import QualitySettings, settled
from dawnline.quality.span import Span
from dawnline.quality.spike import Spike
from dawnline.quality.step import COARSE, Step
from dawnline.quality.verdict import GOOD, NOT_EVALUATED, Verdict, worst
from dawnline.quality.zigzag import Zigzag
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason, Sample
from dawnline.state import Stateful

# A pond under ice moves by some hundredths a day, so that it passes a tenth within a week. No source; simulated.
ON_A_COUNT_MS: Final = 10 * DAY_MS
_AFTER_GAP: Final[Verdict] = (Flag.GOOD, Reason.AFTER_GAP)
_NOISY: Final[Verdict] = (Flag.SUSPECT, Reason.NOISY)
_SHIFTED: Final[Verdict] = (Flag.SUSPECT, Reason.SHIFTED)


class Judge(Stateful):
    """The verdict on every sample of one probe."""

    KEPT: ClassVar[tuple[str, ...]] = (
        "order",
        "gap",
        "spike",
        "step",
        "noise",
        "zigzag",
        "ragged",
        "rate",
        "flat",
        "attenuated",
        "climatology",
    )

    def __init__(
        self,
        quantity: str,
        *,
        interval: int | None = None,
        span: tuple[float, float] | None = None,
        quality: QualitySettings | None = None,
    ) -> None:
        to = settled(quantity, quality)
        everything = (float("-inf"), float("inf"))
        self.order = Order(interval)
        self.gap = Gap(to.gap.after)
        self.span = Span(QUANTITIES[quantity], span, everything if "usual" in to.off else to.usual)
        self.spike = Spike(to.spike.threshold, to.spike.per_minute)
        self.step = Step(quantity)
        self.noise = Noise(quantity)
        self.zigzag = Zigzag(quantity)
        self.ragged = Ragged(quantity)
        fail = to.rate.fail_per_minute
        self.rate = Rate(to.rate.per_minute / 60, None if fail is None else fail / 60, least=to.rate.least)
        self.flat = Flat(to.flat.tolerance, floor=to.flat.floor, cap=to.flat.cap, fail=to.flat.fail)
        self.attenuated = Attenuated(to.attenuated.least, to.attenuated.fail, period=to.attenuated.period)
        self.climatology = Climatology(to.climatology.margin, to.climatology.spans)
        self._gaps, self._spikes = "gap" not in to.off, "spike" not in to.off
        self._season = self.climatology if "climatology" not in to.off else None
        named = (("rate", self.rate.push), ("flat", self.flat.push), ("attenuated", self.attenuated.push))
        self._checks = [push for name, push in named if name not in to.off]

    def push(self, sample: Sample) -> Verdict | None:
        """Flag and reason of this sample, or None where it is an exact repeat of the last."""
        verdict = self.order.push(sample)
        if verdict is not GOOD:
            return verdict
        at, value, interval = sample.at, sample.value, self.order.interval
        verdict = self.span.push(value)
        if verdict is GOOD:
            verdict = self._restless(at, value, interval)
        if verdict is not GOOD:
            return verdict
        verdict = self._steady(at, value, interval)
        if verdict is not GOOD and verdict is not _AFTER_GAP:
            return verdict
        if self.step.shifted:
            return _SHIFTED
        if self._season is not None:
            return self._in_season(verdict, self._season.push(at, value))
        return verdict

    def _steady(self, at: int, value: float, interval: int | None) -> Verdict:
        """The worst of the checks that follow a series over time."""
        verdict = GOOD
        checked = self.gap.push(at, interval)
        if checked is not GOOD and checked is not NOT_EVALUATED:
            self._silence(self.gap.length)
            verdict = _AFTER_GAP if self._gaps else GOOD
        for push in self._checks:
            checked = push(at, value)
            if checked is GOOD or checked is NOT_EVALUATED:
                continue
            if not self._at_rest(at, checked) and not self._rests_on_a_count(at, checked):
                verdict = worst(verdict, checked)
        if self.flat.flagged:
            self.attenuated.forget()  # one reason is enough: the day of a frozen line says nothing of the days after
        return verdict

    def _at_rest(self, at: int, checked: Verdict) -> bool:
        """Whether the signal is faint because it rests altogether: then the flat line says how long it may."""
        flat = self.flat
        resting = flat.first_at is not None and at - flat.since >= self.attenuated.period
        return checked[1] is Reason.ATTENUATED and resting

    def _rests_on_a_count(self, at: int, verdict: Verdict) -> bool:
        """Behind a coarse converter a winter's pond rests on one count for days: that alone accuses nobody.

        Unless its last digit has always flickered, and it has been still for far longer than it ever was.
        """
        flag, reason, grain = *verdict, self.noise.grain
        if grain is None or grain <= COARSE * self.step.least:
            return False
        if flag is Flag.SUSPECT:
            return reason is Reason.ATTENUATED or (reason is Reason.FLAT and not self.flat.unheard_of(at))
        return reason is Reason.FLAT and self.flat.longest > FLICKERS_MS and at - self.flat.since < ON_A_COUNT_MS

    def _restless(self, at: int, value: float, interval: int | None) -> Verdict:
        """Spikes, noise and level shifts, which are seen in all that the instrument says."""
        noise, step = self.noise, self.step
        before = step.leapt_at
        trembles = noise.noisy or self.zigzag.noisy or self.ragged.noisy
        shifted = step.push(at, value, noise.grain, trembles=trembles)
        leapt = step.leapt(at) if step.leapt_at is not None else 0.0
        self.ragged.push(at, value, interval, noise, leapt)
        if step.leapt_at != before and leapt < 0.0 and not noise.noisy and step.fell():
            noise.large.clear()  # a dose of acid, too, falls unevenly, but one way: what follows the fall tells
        watched, one_way = shifted or step.wondered(at), self.ragged.goes_one_way(at, interval)
        noisy = noise.push(at, value, interval, watched=watched, leapt=leapt, one_way=one_way)
        noisy = self.zigzag.push(at, value, interval, noise) or noisy or self.ragged.noisy
        spike = self.spike.push(at, value) if self._spikes else GOOD
        if noisy:
            if shifted:
                self.step.lose()
            return _NOISY
        return GOOD if spike is NOT_EVALUATED else spike

    def restless(self, at: int) -> bool:
        """Whether it trembles so at `at` [ms] that a level is not to be believed yet."""
        return bool(self.noise.large) and self.noise.restless(leapt=self.step.leapt(at) < 0.0)

    def came_up(self, at: int) -> bool:
        """Whether a slow probe that leapt down has come up since, as water does not, and does not lie still."""
        leapt_at, rose_at = self.step.leapt_at, self.ragged.wide_at
        after = leapt_at is not None and rose_at is not None and rose_at > leapt_at and self.step.leapt(at) < 0.0
        return after and self.ragged.is_ragged(at, self.order.interval or 0)

    def _in_season(self, verdict: Verdict, checked: Verdict) -> Verdict:
        """What was learned of a month never withholds a reading: a crash, too, is like nothing seen before."""
        if checked is GOOD or checked is NOT_EVALUATED:
            return verdict
        return (Flag.GOOD, checked[1]) if self.climatology.learned else checked

    def _silence(self, length: int) -> None:
        self.flat.skip(length)
        self.attenuated.skip(length)

    def believe(self) -> None:
        """It has gone one way for long enough: no lost level and no turn of before is held against it."""
        if self.step.lost:
            self.step.believe()
        self.noise.forget()
        self.zigzag.forget()
        self.ragged.moves.clear()

    def forget(self) -> None:
        """What comes next is not to be compared with what came before, nor is an old shift held against it."""
        self.spike.forget()
        self.step.forget()
        self.noise.forget()
        self.zigzag.forget()
        self.ragged.forget()
        self.rate.forget()
        self.flat.forget()
        self.attenuated.forget()

    def begin_unset(self) -> None:
        """The clock is not set: what comes is compared with no level from before, and the month is not known."""
        for check in (self.spike, self.step, self.noise, self.zigzag, self.ragged, self.rate):
            check.forget()
        self._season = None

    def pause(self, sample: Sample) -> Verdict | None:
        """A sample taken during maintenance: kept in order, judged by nothing, compared with nothing later."""
        self.forget()
        verdict = self.order.push(sample)
        return (Flag.NOT_EVALUATED, Reason.MAINTENANCE) if verdict == GOOD else verdict
