"""How far a departure is believed to go on: what departures on this water came to.

In a pond a fall that departs from the usual goes on until somebody acts. In a lake it is often other water passing the
probe, and the pH comes back. The share of what departures promised that came true is learned; at first all is believed.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from dawnline.state import Stateful

PRIOR_PH: Final = 0.5  # as if departures had promised so much [pH] and it had come true
FORGETTING: Final = 0.95  # a night that departed
LEAST_PROMISED: Final = 0.05  # pH


class Trust(Stateful):
    """The share of a departure that is believed."""

    KEPT = ("promised", "came")

    def __init__(self) -> None:
        self.promised = 0.0  # pH below the ordinary forecast, summed over nights
        self.came = 0.0

    def share(self) -> float:
        """From 0, nothing of it came true, to 1."""
        return (PRIOR_PH + self.came) / (PRIOR_PH + self.promised)

    def learn(self, carried: Sequence[tuple[float, float]], low: float) -> None:
        """The night is over: its ordinary forecasts with the carried ones [pH], while it departed, and its `low`."""
        promised = [ordinary - below for ordinary, below in carried if ordinary - below >= LEAST_PROMISED]
        if not promised:
            return
        came = [min(max(o - low, 0.0), o - below) for o, below in carried if o - below >= LEAST_PROMISED]
        self.promised = FORGETTING * self.promised + sum(promised) / len(promised)
        self.came = FORGETTING * self.came + sum(came) / len(came)
