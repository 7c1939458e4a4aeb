"""Which rules this water obeys: weights by each rule's own past errors, learned on line.

A rule weighs by a power of its mean error, in which old nights fade: at half the error of another sixteen times as
much. The forecast lies halfway between the weighted mean of what the rules say, in which their errors even out, and the
weighted median, which those that are far off do not move. Early and late in the night are learned apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import Final

from dawnline.outlook.night_rules import RULES
from dawnline.state import Stateful

FORGETTING: Final = 0.95  # a night
POWER: Final = 4
LEAST: Final = 0.05  # of the median error: what is added to each
# How the rules' errors stand to each other before any is known, and the nights that speak for it. About as they came
# out on simulated ponds and public records; no source.
FIRST: Final = {"last": 1.2, "bounded": 1.2, "drop": 1.6, "line": 1.2, "carbon": 1.6, "alike": 1.2}
FIRST_NIGHTS: Final = 3.0
_FIRST: Final = [FIRST.get(rule, 1.0) for rule in RULES]


class Blend(Stateful):
    """The rules' forecasts at one part of the night, made one."""

    KEPT = ("errors",)

    def __init__(self) -> None:
        self.errors: list[float] = []  # of each rule, summed over fading nights [pH]; none before the first night

    def restore(self, saved: dict[str, object]) -> None:
        """As `Stateful.restore`; raises ValueError for another number of rules."""
        super().restore(saved)
        if len(self.errors) not in (0, len(RULES)):
            raise ValueError(f"saved weights are of {len(self.errors)} rules, there are {len(RULES)}")

    def of(self, said: Sequence[float]) -> float:
        """The blend of what the rules say."""
        errors = self.errors or _FIRST
        ordinary = median(errors) or 1.0
        weights = [(error / ordinary + LEAST) ** -POWER for error in errors]
        mean = sum(weight * each for weight, each in zip(weights, said, strict=True)) / sum(weights)
        return (mean + weighted_median(said, weights)) / 2

    def learn(self, errors: Sequence[float]) -> None:
        """The night is over: mean absolute error of each rule in this part of it [pH]."""
        if not self.errors:
            ordinary = FIRST_NIGHTS * median(errors)
            self.errors = [ordinary * first for first in _FIRST]
        self.errors = [FORGETTING * old + error for old, error in zip(self.errors, errors, strict=True)]


def weighted_median(values: Sequence[float], weights: Sequence[float]) -> float:
    """The value with half of the weight on either side, straight between neighbours; each stands amid its own weight.

    >>> weighted_median([3.0, 1.0, 2.0], [1.0, 1.0, 1.0]), weighted_median([1.0, 2.0], [1.0, 3.0])
    (2.0, 1.75)
    """
    ranked = sorted(zip(values, weights, strict=True))
    half, below = sum(weights) / 2, 0.0
    before: tuple[float, float] | None = None  # a value, and the weight up to its middle
    for value, weight in ranked:
        middle = below + weight / 2
        if middle >= half:
            if before is None:
                return value
            return before[0] + (half - before[1]) / (middle - before[1]) * (value - before[0])
        before, below = (value, middle), below + weight
    return ranked[-1][0]
