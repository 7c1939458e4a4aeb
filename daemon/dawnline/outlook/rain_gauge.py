"""The watch over a rain gauge: how much has fallen, by the quarter of an hour."""

from __future__ import annotations

from typing import Final

from dawnline.event import Rainfall
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.sick import Cause
from dawnline.outlook.watch import Watch
from dawnline.quality.rain_judge import RainJudge
from dawnline.reading import Sample
from dawnline.rollup import STEP_MS

TOO_MUCH: Final = (
    "absurd: more rain than ever fell in such a time; is `gauge` right, a running total or an amount, and `scale`?"
)
LEAST_MM: Final = 1e-6  # less is what arithmetic leaves of nothing


class RainGauge(Watch):
    """One rain gauge [mm]. `quarters` is what fell and has not been said yet: quarter, begin, end [ms], mm."""

    KEPT = (*Watch.KEPT, "quarters")

    def __init__(self, probe: str, judge: RainJudge) -> None:
        super().__init__(probe, "rain", judge)
        self.rain = judge.fallen
        self.quarters: list[tuple[int, int, int, float]] = []

    def good(self, sample: Sample) -> None:
        """As `Watch.good`."""
        fallen = self.rain
        if fallen.mm < LEAST_MM or self.sick.untold(sample.at, self.judge):
            return
        quarter, start, mm = sample.at // STEP_MS, fallen.since, fallen.mm
        if self.quarters and self.quarters[-1][0] == quarter:
            _, start, _, before = self.quarters.pop()
            mm += before
        self.quarters.append((quarter, start, sample.at, mm))

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """As `Watch.finding`; no night hangs on a gauge, and what a wrong configuration looks like is named."""
        found = super().finding(alarm, condition, at)._replace(priority="low")
        if alarm == "probe-suspect" and condition is not Condition.CLEAR and self.sick.cause() is Cause.NOISY:
            return found._replace(evidence=TOO_MUCH)
        return found

    def minute(self, at: int) -> list[Rainfall]:
        """As `Watch.minute`: at the end of a quarter of an hour, what fell in it, and what was heard late."""
        if not self.quarters or at % STEP_MS:
            return []
        said = self.so_far()
        self.quarters.clear()
        return said

    def so_far(self) -> list[Rainfall]:
        """What fell and has not been said."""
        return [Rainfall(self.probe, start, end, round(mm, 4)) for _, start, end, mm in self.quarters]
