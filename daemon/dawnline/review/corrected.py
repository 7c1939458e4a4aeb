"""The days with their figures corrected for drift and fouling, and the grade of each probe's record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from dawnline.electrode.drift import Corrected, Grade
from dawnline.electrode.layer import Layer
from dawnline.event import Day


class CorrectedDay(NamedTuple):
    """Dawn low and dusk high of one day, corrected; None where there is no figure, or nothing to be said of it."""

    date: str
    dawn_low: float | None
    dusk_high: float | None


class Correction(NamedTuple):
    """One probe's days. `worst` is the largest sum of corrections [pH] and `grade` what follows from it.

    Both are None where no two visits enclose any of the days.
    """

    probe: str
    worst: float | None
    grade: Grade | None
    days: tuple[CorrectedDay, ...]

    def __str__(self) -> str:
        """The grade in words."""
        if self.grade is None or self.worst is None:
            return f"{self.probe}: no grade: it takes a calibration or a check in buffer before and after"
        if self.grade is Grade.BEYOND:
            return f"{self.probe}: beyond correction in part: off by up to {self.worst:.2f} pH"
        return f"{self.probe}: {self.grade.label}, corrected by up to {self.worst:.2f} pH"


def corrected(days: Sequence[Day], layer: Layer, bounds: Sequence[tuple[int, int]]) -> Correction:
    """The corrected figures of one probe's `days`; `bounds` are their begins and ends [ms].

    A record is as good as its worst: looked at where corrections are largest, and at the figures themselves.
    """
    rows, seen = [], []
    for day, (start, end) in zip(days, bounds, strict=True):
        low, high = (
            _figure(layer, at, ph) for at, ph in ((day.dawn_low_at, day.dawn_low), (day.dusk_high_at, day.dusk_high))
        )
        rows.append(CorrectedDay(day.date, low and low.value, high and high.value))
        seen += [each for each in (low, high) if each is not None]
        if day.mean is not None:
            moments = (start, end - 1, *layer.visits(start, end))
            seen += [layer.correct(at, day.mean) for at in moments if layer.known(at)]
    worst = max(seen, key=lambda each: each.magnitude, default=None)
    return Correction(layer.probe, worst and worst.magnitude, worst and worst.grade, tuple(rows))


def _figure(layer: Layer, at: int | None, ph: float | None) -> Corrected | None:
    return None if at is None or ph is None or not layer.known(at) else layer.correct(at, ph)
