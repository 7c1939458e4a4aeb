"""What a warmer or colder evening than last night's does to the coming low, learned on this water.

Warmer water breathes more, holds less gas and mixes otherwise: on some waters the low comes out deeper, on others
higher than the rules say. One coefficient, by recursive least squares with forgetting, drawn to none: while nothing is
learned nothing is corrected. Errors count up to twice the ordinary one (Huber 1964).
"""

from __future__ import annotations

from typing import Final

from dawnline.state import Stateful

PRIOR: Final = 5.0  # degC^2; as much as five nights that differ by a degree speak for no effect
FORGETTING: Final = 0.98  # a night
FIRST_ERROR: Final = 0.03  # pH
LEAST_ERROR: Final = 0.003  # pH
REMEMBERED: Final = 20.0  # nights
HUBER: Final = 2.0  # ordinary errors
MOST: Final = 2.0  # ordinary errors that the correction may be
MOST_C: Final = 4.0  # a larger difference counts as this [degC]


class Warmth(Stateful):
    """The correction at one part of the night."""

    KEPT = ("together", "spread", "error", "nights")

    def __init__(self) -> None:
        self.together = 0.0  # of errors, in ordinary ones, and differences [degC]
        self.spread = PRIOR  # of the differences [degC^2]
        self.error = FIRST_ERROR  # an ordinary one [pH]
        self.nights = 1.0

    def of(self, warmer_c: float) -> float:
        """What to add to the forecast [pH] where the water is `warmer_c` warmer than last night at this hour."""
        share = self.together / self.spread * _bounded(warmer_c, MOST_C)
        return _bounded(share, MOST) * self.error

    def learn(self, error: float, warmer_c: float) -> None:
        """The night is over: truth less uncorrected forecast [pH], at the difference of the water [degC]."""
        warmer = _bounded(warmer_c, MOST_C)
        off = _bounded(error / self.error, HUBER)
        self.together = FORGETTING * self.together + off * warmer
        self.spread = FORGETTING * self.spread + (1.0 - FORGETTING) * PRIOR + warmer * warmer
        self.nights = min(self.nights + 1.0, REMEMBERED)
        self.error = max(self.error + (abs(error) - self.error) / self.nights, LEAST_ERROR)


def _bounded(value: float, most: float) -> float:
    return min(max(value, -most), most)
