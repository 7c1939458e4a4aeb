"""Gross range (QARTOD test 4): what the instrument can measure, and what a pond shows."""

from __future__ import annotations

from typing import Final

from dawnline.quality.verdict import GOOD, Verdict
from dawnline.quantity import Quantity
from dawnline.reading import Flag, Reason

_OUT_OF_SPAN: Final[Verdict] = (Flag.FAIL, Reason.OUT_OF_SPAN)
_UNUSUAL: Final[Verdict] = (Flag.SUSPECT, Reason.UNUSUAL)


class Span:
    """Limits of one series, in its quantity's unit; a value on a limit passes."""

    def __init__(
        self,
        quantity: Quantity,
        span: tuple[float, float] | None = None,
        usual: tuple[float, float] | None = None,
    ) -> None:
        self.low, self.high = span or quantity.span
        self.usual_low, self.usual_high = usual or quantity.usual

    def push(self, value: float) -> Verdict:
        """`fail` outside the instrument's span, `suspect` outside what a pond shows."""
        if not self.low <= value <= self.high:
            return _OUT_OF_SPAN
        if not self.usual_low <= value <= self.usual_high:
            return _UNUSUAL
        return GOOD
