"""The checks of a rain gauge: order, span, and whether so much can have fallen. Dry weeks are flat and a cloudburst is
a spike: nothing else is asked of it.
"""

from __future__ import annotations

from dawnline.quality.fallen import Fallen
from dawnline.quality.judge import Judge
from dawnline.quality.settings import QualitySettings, Speech
from dawnline.quality.verdict import GOOD, Verdict
from dawnline.reading import Sample


class RainJudge(Judge):
    """The verdict on every message of one gauge; `fallen` has what it means."""

    KEPT = (*Judge.KEPT, "fallen")

    def __init__(
        self,
        speech: Speech = "accumulation",
        rolls_over: float | None = None,
        *,
        interval: int | None = None,
        span: tuple[float, float] | None = None,
        quality: QualitySettings | None = None,
    ) -> None:
        super().__init__("rain", interval=interval, span=span, quality=quality)
        self.fallen = Fallen(speech, rolls_over)

    def push(self, sample: Sample) -> Verdict | None:
        """As `Judge.push`."""
        self.fallen.mm = 0.0
        verdict = self.order.push(sample)
        if verdict is GOOD:
            verdict = self.span.push(sample.value)
        return self.fallen.push(sample.at, sample.value) if verdict is GOOD else verdict

    def forget(self) -> None:
        """As `Judge.forget`."""
        super().forget()
        self.fallen.forget()

    def begin_unset(self) -> None:
        """As `Judge.begin_unset`."""
        super().begin_unset()
        self.fallen.forget()

    def pause(self, sample: Sample) -> Verdict | None:
        """As `Judge.pause`; water poured through a gauge that is being seen to is no rain."""
        verdict = super().pause(sample)
        if verdict is not None and self.fallen.accumulates:
            self.fallen.begin(sample.at, sample.value)
        return verdict
