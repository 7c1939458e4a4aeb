"""How far off a forecast may be: bounds from its own past errors, kept honest night by night.

The bounds lie at a multiple of the ordinary error below and above the forecast. After each night the multiple grows
where the truth lay outside and shrinks a little where it lay inside, so that in the long run one night in ten falls
below and one above, whatever the errors' shape: quantile tracking, as in Angelopoulos, Candes and Tibshirani (2023),
Conformal PID control for time series prediction, NeurIPS 36. While few nights are known the bounds are wider.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from typing import Final

from dawnline.state import Stateful

OUTSIDE: Final = 0.1  # share of nights on each side
LEARNING: Final = 0.25
# Times the mean absolute error, to begin with; 1.6 for a normal distribution. Set on simulated ponds; no source.
FIRST_BELOW: Final = 1.5
FIRST_ABOVE: Final = 1.9
FEW: Final = 3.0  # nights; with as many judged the bounds are twice as wide as later
FIRST_ERROR: Final = 0.03  # pH; presumed before any night was judged, as strong as one night
LEAST_ERROR: Final = 0.004
REMEMBERED: Final = 20.0  # nights


class Spread(Stateful):
    """The bounds at one part of the night."""

    KEPT = ("error", "nights", "below", "above")

    def __init__(self) -> None:
        self.error = FIRST_ERROR  # mean absolute error [pH]
        self.nights = 1.0  # judged, the presumed one included
        self.below, self.above = FIRST_BELOW, FIRST_ABOVE

    def bounds(self) -> tuple[float, float]:
        """How far the 10 % bound lies below and the 90 % bound above the forecast [pH]."""
        width = max(self.error, LEAST_ERROR) * (1.0 + FEW / (self.nights * self.nights))
        return self.below * width, self.above * width

    def learn(self, errors: Sequence[float]) -> None:
        """The night is over: truth less forecast [pH] at some times in this part of it."""
        down, up = self.bounds()
        count = len(errors)
        under, over = sum(e < -down for e in errors) / count, sum(e > up for e in errors) / count
        self.below *= exp(LEARNING * (under - OUTSIDE))
        self.above *= exp(LEARNING * (over - OUTSIDE))
        self.nights = min(self.nights + 1.0, REMEMBERED)
        self.error += (sum(abs(e) for e in errors) / count - self.error) / self.nights
