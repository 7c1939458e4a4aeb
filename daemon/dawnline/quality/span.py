"""Gross range (QARTOD test 4): what the instrument can measure, and what a pond shows."""

from __future__ import annotations

from dawnline.quantity import Quantity
from dawnline.reading import Flag, Reason


class Span:
    """Limits of one series, in its quantity's unit; a value on a limit passes."""

    def __init__(self, quantity: Quantity, span: tuple[float, float] | None = None) -> None:
        self.low, self.high = span or quantity.span
        self.usual_low, self.usual_high = quantity.usual

    def push(self, value: float) -> tuple[Flag, Reason]:
        """`fail` outside the instrument's span, `suspect` outside what a pond shows."""
        if not self.low <= value <= self.high:
            return Flag.FAIL, Reason.OUT_OF_SPAN
        if not self.usual_low <= value <= self.usual_high:
            return Flag.SUSPECT, Reason.UNUSUAL
        return Flag.GOOD, Reason.NONE
