"""The watch over one probe of any quantity: its readings judged, its silence and its sickness seen.

What goes with a quantity stands beside it: ph_watch.py, thermometer.py.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from dawnline.duration import MINUTE_MS
from dawnline.event import Day, Forecast, Rainfall
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.sick import Sick
from dawnline.outlook.silence import Silence
from dawnline.quality.judge import Judge
from dawnline.quality.order import AHEAD_MS
from dawnline.reading import Flag, Reading, Reason, Sample
from dawnline.state import Stateful

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

LIVE_MS: Final = 15 * MINUTE_MS  # older samples go into the record and judge no alarm
_NOT_THE_NEWEST: Final = frozenset((Reason.OUT_OF_ORDER, Reason.REPEATED_TIME, Reason.UNDATED, Reason.AHEAD_OF_CLOCK))
_GOOD: Final = Flag.GOOD  # a member looked up by its class costs ten times as much, for each reading
_SHIFTED: Final = Reason.SHIFTED
PRESUMED_INTERVAL_MS: Final = MINUTE_MS  # until a second reading shows the interval


class Watch(Stateful):
    """One probe of any quantity: quality, silence, sickness."""

    KEPT: ClassVar[tuple[str, ...]] = ("judge", "silence", "sick", "newest", "out_until")

    def __init__(self, probe: str, quantity: str, judge: Judge) -> None:
        self.probe = probe
        self.quantity = quantity
        self.judge = judge
        self.silence = Silence()
        self.sick = Sick(quantity)
        self.newest: tuple[int, float, int] | None = None  # time, value, flag of the latest reading, for status
        self.out_until = 0  # readings before this time are taken during maintenance

    @property
    def interval(self) -> int:
        """How often the probe speaks [ms], as far as known."""
        return self.judge.order.interval or PRESUMED_INTERVAL_MS

    def take(self, sample: Sample) -> Reading | None:
        """Judge one sample; None for an exact repeat. A check that crashes costs its verdict, not the reading."""
        probe, at, value, received_at, dated = sample
        maintenance = received_at < self.out_until
        try:
            verdict = self.judge.pause(sample) if maintenance else self.judge.push(sample)
        except (ArithmeticError, ValueError, LookupError, TypeError):
            verdict = Flag.NOT_EVALUATED, Reason.CHECK_FAILED
        if verdict is None:
            return None
        flag, reason = verdict
        if -AHEAD_MS <= received_at - at <= LIVE_MS and dated:
            self.silence.heard(received_at)  # what cannot judge the present is no sign of life
        if maintenance:
            self.forget(received_at)
        else:
            self.sick.push(at, value, flag, reason)
        if reason not in _NOT_THE_NEWEST:
            self.newest = (at, value, int(flag))
        if flag is _GOOD:
            self.good(sample)
        elif reason is _SHIFTED:
            self.shifted(sample)
        return Reading(probe, at, value, received_at, flag, reason)

    def begin_maintenance(self, at: int, until: int) -> None:
        """The probe is being seen to from `at` to `until` [ms]; afterwards it is judged afresh."""
        self.out_until = max(self.out_until, until)
        self.judge.forget()
        self.sick.forget()
        self.forget(at)

    def begin_unset(self, at: int) -> None:
        """From `at` [ms] on time is provisional: what comes is not compared with what came before, who knows when."""
        self.judge.begin_unset()
        self.forget(at)

    def good(self, sample: Sample) -> None:
        """A good sample; a quantity with a rhythm follows it here."""

    def shifted(self, sample: Sample) -> None:
        """A sample on a level that the instrument has shifted: it tells how the water moves, not where it stands."""

    def present(self, at: int) -> float | None:
        """The newest value, where it is good and recent enough at `at` to judge the present by."""
        if self.newest is None or self.newest[2] != Flag.GOOD:
            return None
        return self.newest[1] if at - self.newest[0] <= min(LIVE_MS, self.patience) + MINUTE_MS else None

    def newest_above(self, limit: float) -> bool:
        """Whether the newest reading, however odd it is, lies above `limit`, in the unit that alarms speak of."""
        return self.newest is not None and self.shown(self.newest[1]) > limit

    @property
    def patience(self) -> int:
        """How long [ms] a value stands for the present while no other comes."""
        return max(5 * MINUTE_MS, 3 * self.interval)

    def shown(self, measured: float) -> float:
        """What was measured, in the unit that alarms speak of."""
        return measured

    def forget(self, until: int) -> None:
        """What comes after `until` [ms] is not to be compared with what came before."""

    def minute(self, at: int) -> Sequence[Day | Forecast | Rainfall]:
        """A whole minute has passed; gives the days that ended with it, forecasts and rain."""
        return []

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """How things stand at `at`, alarm by alarm. `deadbands` are in the alarm's unit."""
        return [
            ("no-data", self.silence.condition(at, self.judge.order.interval)),
            ("probe-suspect", self.sick.condition(at, self.judge)),
        ]

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """The fact behind a condition, with its evidence."""
        if alarm == "no-data":
            last = self.shown(self.newest[1]) if self.newest else None
            text = "readings come again" if condition is Condition.CLEAR else self.silence.evidence(at)
            return Finding(alarm, self.probe, at, condition, last, text, since=self.silence.heard_at)
        value = self.shown(self.newest[1]) if self.newest else None
        return Finding(alarm, self.probe, at, condition, value, self.sick.evidence(at, self.judge))
