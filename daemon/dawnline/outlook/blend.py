"""Which rules this water obeys: weights by each rule's own past errors, learned on line.

Exponential weights with forgetting (Littlestone and Warmuth 1994; Herbster and Warmuth 1998): a rule loses weight by
e^0.4 for each ordinary error that it makes beyond the best one. The forecast is the weighted median of what the rules
say, which errs less than their mean where some of them are far off. Early and late in the night are learned apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from statistics import median
from typing import Final

from dawnline.outlook.night_rules import RULES
from dawnline.state import Stateful

FORGETTING: Final = 0.97  # a night
SHARPNESS: Final = 0.4
LEAST_SCALE: Final = 0.003  # pH; finer than a probe shows


class Blend(Stateful):
    """The weighted median of the rules' forecasts at one part of the night."""

    KEPT = ("losses", "scale")

    def __init__(self) -> None:
        self.losses: list[float] = [0.0] * len(RULES)
        self.scale = 0.0  # an ordinary error [pH]

    def restore(self, saved: dict[str, object]) -> None:
        """As `Stateful.restore`; raises ValueError for another number of rules."""
        super().restore(saved)
        if len(self.losses) != len(RULES):
            raise ValueError(f"saved weights are of {len(self.losses)} rules, there are {len(RULES)}")

    def of(self, said: Sequence[float]) -> float:
        """The blend of what the rules say."""
        best = min(self.losses)
        weights = [exp(-SHARPNESS * (loss - best)) for loss in self.losses]
        return weighted_median(said, weights)

    def learn(self, errors: Sequence[float]) -> None:
        """The night is over: mean absolute error of each rule in this part of it [pH]."""
        ordinary = max(median(errors), LEAST_SCALE)
        self.scale = 0.9 * self.scale + 0.1 * ordinary if self.scale else ordinary
        self.losses = [FORGETTING * old + e / self.scale for old, e in zip(self.losses, errors, strict=True)]

    def follows(self) -> str:
        """The rule with the most weight."""
        return RULES[min(range(len(RULES)), key=self.losses.__getitem__)]


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
