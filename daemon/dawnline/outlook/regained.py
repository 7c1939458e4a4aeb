"""Regained: after it was plainly ill a probe is believed again where it stood before, not because it has grown calm.

A dry bulb, a flooded plug or a beat of the mains falls quiet for a while, far from where the water was. What it says
there is no fall of the water: until it lies near the level before its illness for half an hour, a test by hand bears it
out, or a day has passed without a sign, limits and falls are not judged by it, and it stays named. A dose of acid takes
the pH far down, too, but one way: below its level a probe is held only where it has turned back meanwhile, or left the
water, and was not near its level for some minutes since; nor where it has gone one way for hours, or lain still for
many readings of a slow probe, as nothing that hangs in the air does. Common practice, no source.
"""

from __future__ import annotations

from typing import Final

from dawnline.duration import DAY_MS, HOUR_MS, MINUTE_MS
from dawnline.state import Stateful

FAR: Final = 0.7  # pH from the level before
NEAR_MS: Final = 30 * MINUTE_MS
CALM_MS: Final = 5 * MINUTE_MS  # so near and so long: what it did before counts no more against a fall
HELD_MS: Final = DAY_MS
TURNS: Final = 0.25  # pH by which it goes up and down,
SMOOTH_MS: Final = 45 * MINUTE_MS  # and for how long it has not, where it is believed below its level,
SMOOTH_READINGS: Final = 45  # and for so many readings,
SMOOTH_WELL_MS: Final = 3 * HOUR_MS  # or so long since it last showed a sign of illness
JUST_MS: Final = HOUR_MS  # after it was ill no fall of it is told of,
JUST: Final = 12  # nor for so many readings
PAUSE_MS: Final = 20 * MINUTE_MS  # whatever it did meanwhile is not known
TURNED: Final = (0, 0, 0.0, 0)


class Regained(Stateful):
    """Follows one pH probe from its illness until it is believed again."""

    KEPT = ("level", "ill_at", "near_at", "away", "why", "turned", "lost", "smooth")

    def __init__(self) -> None:
        self.level: float | None = None  # before the illness [pH]; None while it is well
        self.ill_at = 0  # the last sign of it [ms]
        self.near_at: int | None = None  # since when it has been near that level
        self.away = 0.0  # how far it lies from it now [pH]
        self.lost = False  # it lies where the water is not to be expected
        self.why = ""  # what it seemed to suffer from
        self.turned = False  # it went up and down, or left the water: no acid does that
        self.smooth = TURNED  # since when [ms] it goes one way, which, how far [pH], and when that was last seen [ms]

    def forget(self) -> None:
        """The probe has been seen to, is borne out by a test, or is well."""
        self.level, self.near_at, self.turned, self.lost, self.smooth = None, None, False, False, TURNED

    def ill(self, at: int, level: float | None, why: str, *, turns: bool) -> None:
        """It is plainly ill at `at` [ms]; `level` [pH] is where it stood before, where that is known.

        `turns`: as no water does, it goes up and down or has left the water.
        """
        self.level, self.turned = level if self.level is None else self.level, self.turned or turns
        self.ill_at, self.near_at, self.why = at, None, why

    def hear(self, at: int, value: float, interval: int) -> int:
        """It says `value` [pH], believed or not; for how long [ms] it goes one way, far below its level if known."""
        since, way, furthest, last = self.smooth
        beyond = (value - furthest) * way
        if at - last > max(PAUSE_MS, 3 * interval) or (self.level is not None and value >= self.level - FAR):
            since, way, furthest = at, 0, value
        elif beyond < -TURNS:
            since, way, furthest = at, -way, value
        elif beyond > 0 or abs(value - furthest) > TURNS:
            way, furthest = (1 if value > furthest else -1), value
        self.smooth = (since, way, furthest, at)
        return at - since

    def is_water(self, at: int, way: int, interval: int, *, settled: bool) -> bool:
        """Whether at `at` [ms] it has gone one `way` for so long [ms] that it is the water, whatever it did before.

        `settled`: a slow one has lain still for long (quality/ragged.py), which counts far below its level.
        """
        long = way >= max(SMOOTH_MS, SMOOTH_READINGS * interval) or min(way, at - self.ill_at) >= SMOOTH_WELL_MS
        return self.level is not None and (long or (settled and way > 0))

    def push(self, at: int, value: float) -> None:
        """It seems well, and says `value` [pH] at `at` [ms]."""
        if self.level is None:
            return
        away = self.away = value - self.level
        self.lost = away > FAR or (self.turned and away < -FAR)
        if abs(away) > FAR:
            self.near_at = None
        elif self.near_at is None:
            self.near_at = at
        elif at - self.near_at >= CALM_MS:
            self.turned = False
        if at - self.ill_at > HELD_MS or (self.near_at is not None and at - self.near_at >= NEAR_MS):
            self.forget()

    def just_ill(self, at: int, interval: int) -> bool:
        """Whether at `at` [ms] its last sign of illness is some readings old: what it falls since may be its return."""
        return self.level is not None and at - self.ill_at <= max(JUST_MS, JUST * interval)

    def evidence(self) -> str:
        """What speaks against it, in words."""
        more = "more" if self.away > 0 else "less"
        return f"{self.why}: it has grown calm, and shows {abs(self.away):.2f} {more} than before"
