"""All checks of one series, rolled up into one flag.

Roll-up as QARTOD does it: the worst of `fail`, `suspect`, `good` counts; a check that cannot judge
(`not evaluated`) hides none of these, and a reading no check could judge is `not evaluated`.
"""

from __future__ import annotations

from dawnline.quality.noise import Noise
from dawnline.quality.order import Order
from dawnline.quality.span import Span
from dawnline.quality.spike import Spike
from dawnline.quality.step import Step
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason, Sample
from dawnline.state import Stateful


class Judge(Stateful):
    """The verdict on every sample of one probe."""

    KEPT = ("order", "spike", "step", "noise")

    def __init__(self, quantity: str, *, interval: int | None = None, span: tuple[float, float] | None = None) -> None:
        self.order = Order(interval)
        self.span = Span(QUANTITIES[quantity], span)
        self.spike = Spike(quantity)
        self.step = Step(quantity)
        self.noise = Noise(quantity)

    def push(self, sample: Sample) -> tuple[Flag, Reason] | None:
        """Flag and reason of this sample, or None where it is an exact repeat of the last."""
        verdict = self.order.push(sample)
        if verdict is None or verdict[0] is not Flag.GOOD:
            return verdict
        verdict = self.span.push(sample.value)
        if verdict[0] is not Flag.GOOD:
            return verdict
        at, value = sample.at, sample.value
        shifted = self.step.push(at, value)
        noisy = self.noise.push(at, value, self.order.interval, watched=shifted)
        spike = self.spike.push(at, value)
        if noisy and shifted:
            self.step.lose()
        if noisy:
            return Flag.SUSPECT, Reason.NOISY
        if spike[0] is Flag.SUSPECT:
            return spike
        if shifted:
            return Flag.SUSPECT, Reason.SHIFTED
        return verdict if spike[0] is Flag.NOT_EVALUATED else spike

    def forget(self) -> None:
        """What comes next is not to be compared with what came before, nor is an old shift held against it."""
        self.spike.forget()
        self.step.forget()
        self.noise.forget()

    def pause(self, sample: Sample) -> tuple[Flag, Reason] | None:
        """A sample taken during maintenance: kept in order, judged by nothing, compared with nothing later."""
        self.forget()
        verdict = self.order.push(sample)
        return (Flag.NOT_EVALUATED, Reason.MAINTENANCE) if verdict == (Flag.GOOD, Reason.NONE) else verdict
