"""When a reading in a buffer is steady: over a trailing minute, little spread and next to no drift.

Spread: within 0.05 pH; the USGS National Field Manual, chapter A6.4, has readings steady to 0.05 to 0.1 pH before they
are recorded (as summarised at nemi.gov/methods/method_summary/9204). Drift: under 0.02 pH a minute; common practice,
no source. With a probe of millivolts both are taken at 59.16 mV a pH unit.
"""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.electrode.calibration import MV, STANDARD_C
from dawnline.electrode.nernst import slope_mv
from dawnline.state import Stateful

WINDOW_MS: Final = MINUTE_MS
LEAST: Final = 4  # readings, however slow the probe
SPREAD_PH: Final = 0.05
DRIFT_PH_MIN: Final = 0.02  # pH a minute
SLOW_MS: Final = 3 * MINUTE_MS  # an electrode that takes longer is dirty, old or cold: common practice, no source
MOST: Final = 600


class Stability(Stateful):
    """Follows the readings in one buffer."""

    KEPT = ("began_at", "window")

    def __init__(self, quantity: str) -> None:
        unit = slope_mv(STANDARD_C) if quantity == MV else 1.0
        self.decimals = 1 if quantity == MV else 2
        self.spread_allowed = SPREAD_PH * unit
        self.drift_allowed = DRIFT_PH_MIN * unit
        self.began_at: int | None = None
        self.window: deque[tuple[int, float]] = deque(maxlen=MOST)

    def push(self, at: int, value: float) -> None:
        """Take one reading [ms; mV or pH]; one that is not newer than the last is no news."""
        window = self.window
        if window and at <= window[-1][0]:
            return
        if self.began_at is None:
            self.began_at = at
        window.append((at, value))
        while len(window) > LEAST and window[1][0] <= at - WINDOW_MS:
            window.popleft()

    @property
    def stable(self) -> bool:
        """Whether the readings of the trailing minute are steady."""
        window = self.window
        if len(window) < LEAST or window[-1][0] - window[0][0] < WINDOW_MS:
            return False
        return self.spread <= self.spread_allowed and abs(self.drift) <= self.drift_allowed

    @property
    def spread(self) -> float:
        """Highest less lowest of the window, in the probe's unit."""
        values = [value for _, value in self.window]
        return max(values) - min(values) if values else 0.0

    @property
    def drift(self) -> float:
        """Least-squares change a minute over the window, in the probe's unit."""
        window = self.window
        n = len(window)
        if n < 2:
            return 0.0
        mean_t, mean_v = sum(t for t, _ in window) / n, sum(v for _, v in window) / n
        squares = sum((t - mean_t) ** 2 for t, _ in window)
        return sum((t - mean_t) * (v - mean_v) for t, v in window) / squares * MINUTE_MS

    @property
    def value(self) -> float:
        """The median of the window, in the probe's unit. Raises ValueError before the first reading."""
        return median(value for _, value in self.window)

    @property
    def settling_ms(self) -> int | None:
        """From the first reading to the beginning of the steady minute; None while it is not steady."""
        return self.window[0][0] - self.began_at if self.began_at is not None and self.stable else None

    def __str__(self) -> str:
        """How far it is from steady, beside what is accepted, in the probe's unit."""
        n = self.decimals
        return (
            f"spread {self.spread:.{n}f} (steady: {self.spread_allowed:.{n}f}), "
            f"drift {self.drift:+.{n}f} a minute ({self.drift_allowed:.{n}f})"
        )
