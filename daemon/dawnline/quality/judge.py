"""All checks of one series, rolled up into one flag.

Roll-up as QARTOD does it: the worst of `fail`, `suspect`, `good` counts; a check that cannot judge
(`not evaluated`) hides none of these, and a reading no check could judge is `not evaluated`.
"""

from __future__ import annotations

from dawnline.quality.order import Order
from dawnline.quality.span import Span
from dawnline.quality.spike import Spike
from dawnline.quantity import QUANTITIES
from dawnline.reading import Flag, Reason, Sample
from dawnline.state import Stateful


class Judge(Stateful):
    """The verdict on every sample of one probe."""

    KEPT = ("order", "spike")

    def __init__(self, quantity: str, *, interval: int | None = None, span: tuple[float, float] | None = None) -> None:
        self.order = Order(interval)
        self.span = Span(QUANTITIES[quantity], span)
        self.spike = Spike(quantity)

    def push(self, sample: Sample) -> tuple[Flag, Reason] | None:
        """Flag and reason of this sample, or None where it is an exact repeat of the last."""
        verdict = self.order.push(sample)
        if verdict is None or verdict[0] is not Flag.GOOD:
            return verdict
        verdict = self.span.push(sample.value)
        if verdict[0] is not Flag.GOOD:
            return verdict
        spike = self.spike.push(sample.at, sample.value)
        return verdict if spike[0] is Flag.NOT_EVALUATED else spike

    def forget(self) -> None:
        """What comes next is not to be compared with what came before, nor is an old step held against it."""
        self.spike.forget()

    def pause(self, sample: Sample) -> tuple[Flag, Reason] | None:
        """A sample taken during maintenance: kept in order, judged by nothing, compared with nothing later."""
        self.forget()
        verdict = self.order.push(sample)
        return (Flag.NOT_EVALUATED, Reason.MAINTENANCE) if verdict == (Flag.GOOD, Reason.NONE) else verdict
