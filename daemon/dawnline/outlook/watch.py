"""The watch over one probe: its readings judged, its rhythm followed, and what that says about each alarm."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from dawnline.duration import MINUTE_MS
from dawnline.event import Day
from dawnline.outlook.drop import Drop
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.hand import Hand
from dawnline.outlook.limits import high_priority, high_side, low_priority, low_side, shown
from dawnline.outlook.night_rise import NightRise
from dawnline.outlook.rhythm import Rhythm
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.sick import Cause, Sick
from dawnline.outlook.silence import Silence
from dawnline.outlook.slow import Slow
from dawnline.outlook.smooth import Point, Smooth
from dawnline.outlook.sun import Sun
from dawnline.outlook.swing import Swing
from dawnline.outlook.twin import Twin
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
            self.sick.push(sample.at, sample.value, flag, reason)
        if reason not in _NOT_THE_NEWEST:
            self.newest = (sample.at, sample.value, int(flag))
        if flag is Flag.GOOD:
            self.good(sample)
        elif reason is Reason.SHIFTED:
            self.shifted(sample)
        return Reading(sample.probe, sample.at, sample.value, sample.received_at, flag, reason)

    def begin_maintenance(self, at: int, until: int) -> None:
        """The probe is being seen to from `at` to `until` [ms]; afterwards it is judged afresh."""
        self.out_until = max(self.out_until, until)
        self.judge.forget()
        self.sick.forget()
        self.forget(at)

    def good(self, sample: Sample) -> None:
        """A good sample; a quantity with a rhythm follows it here."""

    def shifted(self, sample: Sample) -> None:
        """A sample on a level that the instrument has shifted: it tells how the water moves, not where it stands."""

    def forget(self, until: int) -> None:
        """What comes after `until` [ms] is not to be compared with what came before."""

    def minute(self, at: int) -> list[Day]:
        """A whole minute has passed; gives the days that ended with it."""
        return []

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """How things stand at `at`, alarm by alarm. `deadbands` are in the alarm's unit."""
        return [
            ("no-data", self.silence.condition(at, self.judge.order.interval)),
            ("probe-suspect", self.sick.condition()),
        ]

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """The fact behind a condition, with its evidence."""
        if alarm == "no-data":
            last = self.newest[1] if self.newest else None
            text = "readings come again" if condition is Condition.CLEAR else self.silence.evidence(at)
            return Finding(alarm, self.probe, at, condition, last, text, since=self.silence.heard_at)
        value = self.newest[1] if self.newest else None
        return Finding(alarm, self.probe, at, condition, value, self.sick.evidence(at, self.judge))


class PhWatch(Watch):
    """A pH probe: also the pond's day, the swing, the limits and the sudden drop."""

    KEPT = (
        *Watch.KEPT, "smooth", "rhythm", "swing", "drop", "slow", "night_rise", "hand", "twin",
        "current", "current_at", "shift_since",
    )  # fmt: skip

    def __init__(self, probe: str, judge: Judge, sun: Sun, limits: LimitSettings) -> None:
        super().__init__(probe, "ph", judge)
        self.limits = limits
        self.smooth = Smooth()
        self.rhythm = Rhythm(probe, sun, limits)
        self.swing = Swing()
        self.drop = Drop()
        self.slow = Slow()
        self.night_rise = NightRise()
        self.hand = Hand()
        self.twin = Twin()
        self.current: float | None = None  # the newest minute's pH, less what the instrument is known to have shifted
        self.current_at = 0
        self.shift_since: int | None = None  # time of the instrument's step that is being allowed for

    def good(self, sample: Sample) -> None:
        """Follow the rhythm."""
        if self.shift_since is not None:
            if self.shift_since == self.judge.step.since:  # not undone by another step, but believed after a day
                self.forget(sample.at)
            self.shift_since = None
        self._flow(sample.at, sample.value)
        self.rhythm.push(sample.at, sample.value, self.interval)

    def shifted(self, sample: Sample) -> None:
        """As `Watch.shifted`: falls and limits are judged less the shift; the day's figures do without."""
        step = self.judge.step
        self.shift_since = step.since
        if not step.lost:
            self._flow(sample.at, sample.value - step.offset)

    def _flow(self, at: int, value: float) -> None:
        point = self.smooth.push(at, value, self.interval)
        if point is not None:
            self._follow(point)

    def begin_maintenance(self, at: int, until: int) -> None:
        """As `Watch.begin_maintenance`; hand tests and twins compare afresh."""
        super().begin_maintenance(at, until)
        self.slow.forget()
        self.night_rise.forget()
        self.hand.forget()
        self.twin.forget()

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
        day = self.rhythm.day
        if self.shift_since is None:
            self.rhythm.smoothed(point)
            self.swing.push(point.at, point.value)
            if day is not None:
                self.slow.push(point, day)
                if self.night_rise.push(point, day):
                    self.drop.forget(point.at)
        if day is not None:
            self.drop.push(point, day, self.interval)

    def live(self, at: int) -> bool:
        """Whether the newest good pH is recent enough to judge the present by."""
        return self.current is not None and at - self.current_at <= min(LIVE_MS, self._patience()) + MINUTE_MS

    def unlike(self) -> float | None:
        """How far the present pH lies from what is usual at this hour of the sun; None while that is not known."""
        usual = self.drop.usual()
        return None if usual is None or self.current is None else abs(self.current - usual.level)

    def tested(self, at: int, ph: float) -> None:
        """Somebody measured `ph` by hand at `at` [ms]."""
        if self.current is not None and self.live(at):
            self.hand.push(at, self.current - ph)

    def _patience(self) -> int:
        return max(5 * MINUTE_MS, 3 * self.interval)

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """As `Watch.conditions`, with the pH alarms."""
        silence, sick = super().conditions(at, deadbands)
        if self._contradicted(at):
            sick = ("probe-suspect", Condition.MET)
        result = [silence, sick]
        value, limits = self.current, self.limits
        overruled = self.twin.blamed and self.twin.decided
        if value is None or not self.live(at) or overruled:
            result += [(a, Condition.UNKNOWN) for a in ("ph-crash", "ph-low", "ph-high", "sudden-drop")]
        else:
            value -= self.hand.error(at)
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

    def _contradicted(self, at: int) -> bool:
        """Whether anything but its own readings' quality speaks against this probe."""
        return bool(
            self.twin.blamed or self.slow.shown or self.night_rise.since or self.hand.difference(at) is not None
        )

    def _drop_condition(self, value: float) -> Condition:
        """A fall that stands out concerns people where going on like this leads near the lower limit."""
        if self.night_rise.since is not None:
            return Condition.UNKNOWN
        condition = self.drop.condition()
        if condition is Condition.MET and value - self.drop.to_come() > self.limits.ph_low + NEAR_LOW:
            return Condition.BETWEEN
        return condition

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """As `Watch.finding`, for the pH alarms too."""
        value, limits, seen = self.current, self.limits, self.current_at
        if alarm == "probe-suspect" and condition is Condition.MET and self.sick.condition() is not Condition.MET:
            return Finding(alarm, self.probe, at, condition, value, self._disagreement(at))
        if value is None or alarm in ("no-data", "probe-suspect"):
            return super().finding(alarm, condition, at)
        value -= self.hand.error(at)
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

    def _disagreement(self, at: int) -> str:
        """What contradicts this probe, in words."""
        difference = self.hand.difference(at)
        if difference is not None:
            more = "more" if difference > 0 else "less"
            return f"{Cause.APART_FROM_HAND_TEST}: it shows {abs(difference):.2f} {more} than the test by hand"
        if self.night_rise.since is not None:
            return f"{Cause.ABSURD}: it rose by {self.night_rise.size:.2f} in the dark, above every high of these weeks"
        if not self.twin.blamed:
            return f"{Cause.SLOW}: its highs and lows come later each day than they used to, and its swing is smaller"
        more = "more" if self.twin.mean > 0 else "less"
        which = "" if self.twin.decided else "; which of them is wrong cannot be told"
        return f"{Cause.APART_FROM_TWIN}: it shows {abs(self.twin.mean):.2f} {more} than it should beside it{which}"
