"""Night-slide: tonight's low is likely to pass a limit, or this night departs from what the pond does.

Medium for a night that departs, or whose forecast lies just below the limit; high where it lies below with some
certainty. The stranger the night among this pond's nights, the farther above the limit is near enough; and what a
strange night gains in carbon is expected to go on until dawn (departure.py). In a pond whose ordinary dawn lies below
`ph_low` already, the limit that counts is `ph_crash`.
"""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from statistics import median
from typing import Final

from dawnline.duration import HOUR_MS, iso
from dawnline.event import Forecast, Priority
from dawnline.outlook.departure import going_on
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.smooth import Point
from dawnline.outlook.sun import PondDay, Sun
from dawnline.outlook.tonight import LEANS_FROM, LEANS_WHOLLY, Outlook, Tonight
from dawnline.state import Stateful

SHOWN_MS: Final = 20 * 60_000  # a forecast at least so often
SURE: Final = 0.5  # share of the way from the forecast to its upper bound that lies below the limit
CALM_MARGIN: Final = 0.1  # pH above the limit
RECENT_NIGHTS: Final = 7  # a night that departs leads below the lows of all of them
LOWER: Final = 0.05  # by so much [pH]
LEAST_GRAIN: Final = 0.002  # pH; a finer converter shows no steps
# How much nearer the limit a forecast is believed for each scale by which the night is stranger than nights here are: a
# probe may read too high by more than an abnormal night lies above the limit. Set on simulated ponds; no source.
PER: Final = 0.04  # pH
STRANGE_FROM: Final = 1.0  # scales from which a night is told of
SURE_FROM: Final = 3.0  # and from which somebody is woken
STRANGEST: Final = 6.0  # also what a night counts as whose gain in carbon is expected to go on
LEAST_STEP: Final = 0.025  # pH from low to low that is ordinary in any pond
MAD_TO_SD: Final = 1.4826
NAMED_LOWS: Final = 3


class Slide(Stateful):
    """The night of one pH probe: its forecasts, and whether it slides."""

    KEPT = ("tonight", "level", "likely", "shown_at", "waiting", "grain")

    def __init__(self, probe: str, sun: Sun, limits: LimitSettings) -> None:
        self.probe, self.limits, self.zone = probe, limits, sun.zone
        self.tonight = Tonight(sun)
        self.level = 0  # 0 an ordinary night, 1 between, 2 departs, 3 likely to pass the limit
        self.likely = False  # the last forecast was below the limit
        self.shown_at = 0
        self.waiting = False  # a forecast to be shown
        self.grain = 0.0  # one count of the converter [pH]

    def forget(self) -> None:
        """As `Tonight.forget`."""
        self.tonight.forget()

    def begin_anew(self) -> None:
        """The probe is known to read wrong: what was judged without that does not stand."""
        self.level, self.likely = 0, False

    def push(self, point: Point, day: PondDay, error: float, grain: float = 0.0, unshared: float = 0.0) -> None:
        """Take one smoothed point; `error` [pH] is what the probe is known to read too high by.

        `grain` is one count of its converter [pH], `unshared` what the probe beside it did not fall along [pH].
        """
        self.grain = grain
        outlook = self.tonight.push(point, day, grain)
        if outlook is not None:
            self.level = self._level(outlook, error, unshared)
            night = self.tonight.night
            if night is not None and outlook.at >= max(night.sunset, self.shown_at):
                self.shown_at = outlook.at - outlook.at % SHOWN_MS + SHOWN_MS
                self.waiting = True
        elif self.tonight.outlook is None:
            self.level, self.likely, self.waiting = 0, False, False

    def forecasts(self, at: int) -> list[Forecast]:
        """What is to be shown at this minute."""
        if not self.waiting:
            return []
        self.waiting = False
        body = self.body()
        return [] if body is None else [Forecast("tonight", at, body)]

    def body(self) -> dict[str, object] | None:
        """The forecast as the interface contract has it, with the probe and the last lows; None without one.

        What a probe shows in steps has its median on one of them, and so has its low.
        """
        night, outlook = self.tonight.night, self.tonight.outlook
        if night is None or outlook is None or outlook.at < night.sunset:
            return None
        low, grain = outlook.low, self.grain
        if grain > LEAST_GRAIN:
            low = outlook.value + round((low - outlook.value) / grain) * grain
        return {
            "night": night.date,
            "low": round(low, 3),
            "low_p10": round(min(outlook.low_p10, low), 3),
            "low_p90": round(max(outlook.low_p90, low), 3),
            "at": iso(outlook.low_at - outlook.low_at % 60_000, self.zone),
            "probe": self.probe,
            "last_lows": [round(low, 2) for low in self.tonight.lows()[-NAMED_LOWS:]],
        }

    @property
    def sure(self) -> bool:
        """Whether the low is likely to pass the limit with some certainty."""
        return self.level == 3

    def condition(self) -> Condition:
        """MET while the night slides."""
        if self.tonight.outlook is None or self.level == 0:
            return Condition.CLEAR
        return Condition.BETWEEN if self.level == 1 else Condition.MET

    def finding(self, condition: Condition, at: int) -> Finding:
        """The fact with its evidence; the value is the low expected."""
        outlook = self.tonight.outlook
        if outlook is None or condition is not Condition.MET:
            low = self.tonight.low
            text = "the fall has ended" + ("" if low is None else f"; the lowest was pH {low:.2f}")
            return Finding("night-slide", self.probe, at, condition, low, text)
        priority: Priority = "high" if self.sure else "medium"
        text = self._words(outlook)
        return Finding("night-slide", self.probe, at, condition, outlook.low, text, priority, observed_at=outlook.at)

    def _limit(self) -> float:
        lows = self.tonight.lows()
        ordinary = bool(lows) and median(lows) <= self.limits.ph_low
        return self.limits.ph_crash if ordinary else self.limits.ph_low

    def _level(self, outlook: Outlook, error: float, unshared: float) -> int:
        """The level by the newest forecast; two in a row must lie below the limit for the highest.

        A departure of which the water beside shared less than half is none. By day none begins; one that stands goes on
        while the pH does not come up as it usually does.
        """
        limit, low, twice = self._limit(), outlook.low - error, self.likely
        self.likely = low + SURE * (outlook.low_p90 - outlook.low) < limit
        still, near = self.level > 0 and outlook.scales >= LEANS_FROM, False
        if (still or not self.tonight.is_day(outlook.at)) and low < min(self.tonight.lows()[-RECENT_NIGHTS:]) - LOWER:
            strange, shared = self._strange(low), unshared <= (outlook.fall - max(outlook.usual, 0.0)) / 2
            departs = shared and outlook.scales >= LEANS_WHOLLY
            if departs:
                strange, low = STRANGEST, self._going_on(outlook) - error
            self.likely = self.likely or low < limit + PER * (strange - SURE_FROM)
            near = departs or low < limit + PER * (strange - STRANGE_FROM)
        if self.likely and (twice or self.level == 3):
            return 3
        if near or low < limit:
            return 2
        return 0 if low > limit + CALM_MARGIN else min(self.level, 1)

    def _going_on(self, outlook: Outlook) -> float:
        """The low [pH] if what tonight gains in carbon beyond the usual goes on until dawn."""
        night = self.tonight.night
        assert night is not None
        hours = max(outlook.low_at, night.sunrise - HOUR_MS // 2) - outlook.at
        return going_on(outlook.low, self.tonight.trust.share() * outlook.surplus, max(hours, 0) / HOUR_MS)

    def _strange(self, low: float) -> float:
        """How far `low` lies below last night's, against how far lows here go from night to night; 0 to `STRANGEST`."""
        lows = self.tonight.lows()[-RECENT_NIGHTS - 1 :]
        steps = [after - before for before, after in pairwise(lows)]
        usual = median(steps)
        scale = max(MAD_TO_SD * median([abs(step - usual) for step in steps]), LEAST_STEP)
        return min(max((lows[-1] + min(usual, 0.0) - low) / scale, 0.0), STRANGEST)

    def _words(self, outlook: Outlook) -> str:
        limit = self._limit()
        parts = []
        if outlook.scales >= LEANS_FROM:
            parts.append(
                f"pH has fallen {outlook.fall:.2f} since {self._clock(outlook.since)}; "
                f"{max(outlook.usual, 0.0):.2f} is usual at this hour"
            )
        low = f"low is expected at pH {outlook.low:.2f} ({outlook.low_p10:.2f} to {outlook.low_p90:.2f})"
        by_day = self.tonight.is_day(outlook.at)  # then it is due, if not past
        parts.append(f"this morning's {low}" if by_day else f"tonight's {low} near {self._clock(outlook.low_at)}")
        if self.level == 3 and outlook.low >= limit > (on := self._going_on(outlook)):
            parts.append(f"pH {on:.2f} if it goes on falling like this")
        passes = self.tonight.passes(limit)
        if outlook.value >= limit and passes is not None:
            parts.append(f"below {limit:g} from about {self._clock(passes)}")
        lows = [f"{low:.2f}" for low in self.tonight.lows()[-NAMED_LOWS:]]
        return "; ".join([*parts, f"the last nights went down to {', '.join(lows)}"])

    def _clock(self, at: int) -> str:
        return f"{datetime.fromtimestamp(at / 1000, self.zone):%H:%M}"
