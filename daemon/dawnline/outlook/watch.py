"""The watch over one probe: its readings judged, its rhythm followed, and what that says about each alarm."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from dawnline.duration import MINUTE_MS
from dawnline.event import Day
from dawnline.outlook.drop import Drop
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.limits import high_priority, high_side, low_priority, low_side, shown
from dawnline.outlook.rhythm import Rhythm
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.sick import Sick
from dawnline.outlook.silence import Silence
from dawnline.outlook.smooth import Point, Smooth
from dawnline.outlook.sun import Sun
from dawnline.outlook.swing import Swing
from dawnline.quality.judge import Judge
from dawnline.quality.order import AHEAD_MS
from dawnline.reading import Flag, Reading, Reason, Sample
from dawnline.state import Stateful

if TYPE_CHECKING:
    from collections.abc import Mapping

LIVE_MS: Final = 15 * MINUTE_MS  # older samples go into the record and judge no alarm
NEAR_LOW: Final = 0.3  # pH above ph_low that a fall must be heading for
_NOT_THE_NEWEST: Final = (Reason.OUT_OF_ORDER, Reason.REPEATED_TIME, Reason.UNDATED, Reason.AHEAD_OF_CLOCK)
PRESUMED_INTERVAL_MS: Final = MINUTE_MS  # until a second reading shows the interval


class Watch(Stateful):
    """One probe of any quantity: quality, silence, sickness."""

    KEPT: ClassVar[tuple[str, ...]] = ("judge", "silence", "sick", "newest", "out_until")

    def __init__(self, probe: str, quantity: str, judge: Judge) -> None:
        self.probe = probe
        self.quantity = quantity
        self.judge = judge
        self.silence = Silence()
        self.sick = Sick()
        self.newest: tuple[int, float, int] | None = None  # time, value, flag of the latest reading, for status
        self.out_until = 0  # readings before this time are taken during maintenance

    @property
    def interval(self) -> int:
        """How often the probe speaks [ms], as far as known."""
        return self.judge.order.interval or PRESUMED_INTERVAL_MS

    def take(self, sample: Sample) -> Reading | None:
        """Judge one sample; None for an exact repeat. A check that crashes costs its verdict, not the reading."""
        maintenance = sample.received_at < self.out_until
        try:
            verdict = self.judge.pause(sample) if maintenance else self.judge.push(sample)
        except (ArithmeticError, ValueError, LookupError, TypeError):
            verdict = Flag.NOT_EVALUATED, Reason.CHECK_FAILED
        if verdict is None:
            return None
        flag, reason = verdict
        if -AHEAD_MS <= sample.received_at - sample.at <= LIVE_MS and sample.dated:
            self.silence.heard(sample.received_at)  # what cannot judge the present is no sign of life
        if maintenance:
            self.forget(sample.received_at)
        else:
            self.sick.push(flag, reason)
        if reason not in _NOT_THE_NEWEST:
            self.newest = (sample.at, sample.value, int(flag))
        if flag is Flag.GOOD:
            self.good(sample)
        return Reading(sample.probe, sample.at, sample.value, sample.received_at, flag, reason)

    def begin_maintenance(self, at: int, until: int) -> None:
        """The probe is being seen to from `at` to `until` [ms]; afterwards it is judged afresh."""
        self.out_until = max(self.out_until, until)
        self.judge.forget()
        self.sick.forget()
        self.forget(at)

    def good(self, sample: Sample) -> None:
        """A good sample; a quantity with a rhythm follows it here."""

    def forget(self, until: int) -> None:
        """What comes after `until` [ms] is not to be compared with what came before."""

    def minute(self, at: int) -> list[Day]:
        """A whole minute has passed; gives the days that ended with it."""
        return []

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """How things stand at `at`, alarm by alarm. `deadbands` are in the alarm's unit."""
        sick = self.sick.condition(at, self.judge.spike) if self.judge.order.last_at is not None else Condition.CLEAR
        return [("no-data", self.silence.condition(at, self.judge.order.interval)), ("probe-suspect", sick)]

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """The fact behind a condition, with its evidence."""
        if alarm == "no-data":
            last = self.newest[1] if self.newest else None
            text = "readings come again" if condition is Condition.CLEAR else self.silence.evidence(at)
            return Finding(alarm, self.probe, at, condition, last, text, since=self.silence.heard_at)
        value = self.newest[1] if self.newest else None
        return Finding(alarm, self.probe, at, condition, value, self.sick.evidence(at, self.judge.spike))


class PhWatch(Watch):
    """A pH probe: also the pond's day, the swing, the limits and the sudden drop."""

    KEPT = (*Watch.KEPT, "smooth", "rhythm", "swing", "drop", "current", "current_at", "step_seen")

    def __init__(self, probe: str, judge: Judge, sun: Sun, limits: LimitSettings) -> None:
        super().__init__(probe, "ph", judge)
        self.limits = limits
        self.smooth = Smooth()
        self.rhythm = Rhythm(probe, sun, limits)
        self.swing = Swing()
        self.drop = Drop()
        self.current: float | None = None  # the newest minute's pH, once its neighbours bear it out
        self.current_at = 0
        self.step_seen: int | None = None  # the last instrument's step that was taken note of

    def good(self, sample: Sample) -> None:
        """Follow the rhythm."""
        interval = self.interval
        step_at = self.judge.spike.step_at
        if step_at != self.step_seen:  # what lies before a step cannot be compared with what follows
            self.step_seen = step_at
            self.forget(sample.at)
        point = self.smooth.push(sample.at, sample.value, interval)
        if point is not None:
            self._follow(point)
        self.rhythm.push(sample.at, sample.value, interval)

    def forget(self, until: int) -> None:
        """As `Watch.forget`: the smoothing and the drop begin anew."""
        self.smooth.forget()
        self.drop.forget(until)

    def minute(self, at: int) -> list[Day]:
        """Close the minute, and the days that have ended."""
        point = self.smooth.close(at // MINUTE_MS, self.interval)
        if point is not None:
            self._follow(point)
        days = []
        while (day := self.rhythm.close(at, self.interval)) is not None:
            days.append(day)
        return days

    def _follow(self, point: Point) -> None:
        self.current, self.current_at = point.newest, point.newest_at
        self.rhythm.smoothed(point)
        self.swing.push(point.at, point.value)
        day = self.rhythm.day
        if day is not None:
            self.drop.push(point, day, self.interval)

    def live(self, at: int) -> bool:
        """Whether the newest good pH is recent enough to judge the present by."""
        return self.current is not None and at - self.current_at <= min(LIVE_MS, self._patience()) + MINUTE_MS

    def _patience(self) -> int:
        return max(5 * MINUTE_MS, 3 * self.interval)

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """As `Watch.conditions`, with the pH alarms."""
        result = super().conditions(at, deadbands)
        value, limits = self.current, self.limits
        if value is None or not self.live(at):
            result += [(a, Condition.UNKNOWN) for a in ("ph-crash", "ph-low", "ph-high", "sudden-drop")]
        else:
            result += [
                ("ph-crash", low_side(value, limits.ph_crash, deadbands["ph-crash"])),
                ("ph-low", low_side(value, limits.ph_low, deadbands["ph-low"])),
                ("ph-high", high_side(value, limits.ph_high, deadbands["ph-high"])),
                ("sudden-drop", self._drop_condition(value)),
            ]
        swing = self.swing.figure(at)
        wide = Condition.UNKNOWN if swing is None else high_side(swing, limits.swing_wide, deadbands["wide-swing"])
        result.append(("wide-swing", wide))
        return result

    def _drop_condition(self, value: float) -> Condition:
        """A fall that stands out concerns people where going on like this leads near the lower limit."""
        condition = self.drop.condition()
        if condition is Condition.MET and value - self.drop.to_come() > self.limits.ph_low + NEAR_LOW:
            return Condition.BETWEEN
        return condition

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """As `Watch.finding`, for the pH alarms too."""
        value, limits, seen = self.current, self.limits, self.current_at
        if value is None or alarm in ("no-data", "probe-suspect"):
            return super().finding(alarm, condition, at)
        if alarm == "wide-swing":
            swing = self.swing.figure(at)
            text = "" if swing is None else f"pH moved by {swing:.2f} in 24 hours; {limits.swing_wide:g} is wide"
            return Finding(alarm, self.probe, at, condition, swing, text, observed_at=seen)
        if alarm == "sudden-drop":
            text = self.drop.evidence() if self.drop.worst else f"the fall has ended, at pH {value:.2f}"
            return Finding(alarm, self.probe, at, condition, value, text, since=self.drop.since, observed_at=seen)
        if alarm == "ph-high":
            text = shown(value, limits.ph_high) + (f", above {limits.ph_high:g}" if value > limits.ph_high else "")
            return Finding(alarm, self.probe, at, condition, value, text, high_priority(value), observed_at=seen)
        ordinary = self.rhythm.ordinary_low
        limit = limits.ph_crash if alarm == "ph-crash" else limits.ph_low
        priority = low_priority(limits, ordinary) if alarm == "ph-low" else None
        text = shown(value, limit) + (f", below {limit:g}" if value < limit else "")
        if ordinary is not None:
            text += f"; this pond's ordinary dawn low is {ordinary:.2f}"
        return Finding(alarm, self.probe, at, condition, value, text, priority, observed_at=seen)
