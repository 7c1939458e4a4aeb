"""The watch over one pH probe: its day, swing and limits, the sudden drop, the night to come, what contradicts it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from dawnline.duration import MINUTE_MS
from dawnline.electrode.electrode import Electrode
from dawnline.event import Day, Forecast
from dawnline.outlook.doubt import Doubt
from dawnline.outlook.drop import Drop
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.limits import VERY_HIGH, high_side
from dawnline.outlook.ph_facts import fact
from dawnline.outlook.ph_present import present
from dawnline.outlook.rhythm import Rhythm
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.slide import Slide
from dawnline.outlook.smooth import Point, Smooth
from dawnline.outlook.sun import PHASES, Sun
from dawnline.outlook.swing import Swing
from dawnline.outlook.turn import Turn
from dawnline.outlook.twin import Twin
from dawnline.outlook.watch import LIVE_MS, Watch
from dawnline.quality.judge import Judge
from dawnline.reading import Reason, Sample

_RESTARTS: Final = (Reason.NOISY, Reason.FLAT)
BEFORE_ILL: Final = 12  # readings before it is plain that it is ill, it was well


class PhWatch(Watch):
    """A pH probe: also the pond's day, the swing, the limits and the sudden drop."""

    KEPT = (
        *Watch.KEPT, "smooth", "rhythm", "swing", "drop", "turn", "slide", "doubt", "electrode",
        "current", "current_at", "shift_since", "wondered_at", "doubted", "lower_at",
    )  # fmt: skip

    def __init__(
        self, probe: str, judge: Judge, sun: Sun, limits: LimitSettings, electrode: Electrode | None = None
    ) -> None:
        self.electrode = electrode or Electrode("ph")
        super().__init__(probe, self.electrode.quantity, judge)
        self.limits = limits
        self.smooth = Smooth()
        self.rhythm = Rhythm(probe, sun, limits)
        self.swing = Swing()
        self.drop = Drop()
        self.turn = Turn()
        self.slide = Slide(probe, sun, limits)
        self.doubt = Doubt()
        self.current: float | None = None  # the newest minute's pH, less what the instrument is known to have shifted
        self.current_at = self.lower_at = 0  # of it, and when it was last at most 9.5, or not to be believed
        self.shift_since: int | None = None  # time of the instrument's step that is being allowed for
        self.wondered_at: int | None = None  # time of the last step that may have been water
        self.doubted = False  # something spoke against the probe at the last point

    def good(self, sample: Sample) -> None:
        """Follow the rhythm, in pH."""
        if self.shift_since is not None:
            if self.shift_since == self.judge.step.since:  # not undone by another step, but believed after a day
                self.forget(sample.at)
            self.shift_since = None
        latest = self.sick.latest
        if len(latest) > 1 and latest[-2] in _RESTARTS:  # what it said while it trembled or rested is no level
            self.forget(sample.at)
        if self.wondered_at != self.judge.step.wondered_at:  # no fall is counted across it; the limits go on
            self.forget(sample.at)
            self._put_right(sample.at)
            self.wondered_at = self.judge.step.wondered_at
            if self.drop.is_leap(rise := self.electrode.change_ph(self.judge.step.size), self.grain):
                self.doubt.rise.leap(sample.at, self.electrode.ph(sample.value), (rise, self.interval))
            for at, beyond in self.judge.step.beyond()[:-1]:  # the first of them seemed to be a spike
                self.smooth.push(at, self.electrode.ph(beyond), self.interval)
                self._see_turn(at, self.electrode.ph(beyond))
        value, interval = self.electrode.ph(sample.value), self.interval
        self._flow(sample.at, value, interval)
        if not self.doubt.regained.lost:
            self.rhythm.push(sample.at, value, interval)

    def shifted(self, sample: Sample) -> None:
        """As `Watch.shifted`: falls and limits are judged less the shift; the day's figures do without."""
        step = self.judge.step
        if step.since != self.shift_since and self._put_right(sample.at):
            return
        self.shift_since = step.since
        if not step.lost:
            self._flow(sample.at, self.electrode.ph(sample.value - step.offset), self.interval)

    def _put_right(self, at: int) -> bool:
        """Whether the step just seen undoes the error that tests by hand had found: then the probe is believed."""
        step = self.judge.step
        change = self.electrode.change_ph(step.size)
        if not self.doubt.hand.undone_by(at, change):
            return False
        self.doubt.hand.forget()
        step.forget()
        self.rebase(change, at, calibrated=False)
        return True

    def _flow(self, at: int, value: float, interval: int) -> None:
        if (point := self.smooth.push(at, value, interval)) is not None:
            self._follow(point)

    def begin_maintenance(self, at: int, until: int) -> None:
        """As `Watch.begin_maintenance`; what spoke against it is forgotten."""
        super().begin_maintenance(at, until)
        self.doubt.forget()
        self.drop.climb.seen_to()

    def begin_unset(self, at: int) -> None:
        """As `Watch.begin_unset`: what is usual at an hour of the sun says nothing while the hour is not known."""
        super().begin_unset(at)
        self.current = None
        self.swing = Swing()
        self.drop.profile.clear()
        self.doubt.rise.forget()
        self.rhythm.learning = False

    def forget(self, until: int) -> None:
        """As `Watch.forget`: the smoothing and the drop begin anew."""
        self.smooth.forget()
        self.turn.forget()
        self.drop.forget(until)
        self.slide.forget()

    def minute(self, at: int) -> list[Day | Forecast]:
        """Close the minute, and the days that have ended; forecasts of the night."""
        self.electrode.minute(at)
        point = self.smooth.close(at // MINUTE_MS, self.interval)
        if self.smooth.points:
            self._see_turn(*self.smooth.points[-1])
        if point is not None:
            self._follow(point)
        if self.ill(at):
            before = self.drop.level_before(at - BEFORE_ILL * self.interval)
            turns = self.judge.zigzag.restless or self.sick.left(at, self.judge)
            self.doubt.regained.ill(at, before, self.sick.cause(), turns=turns)
        if self.doubt.hand.rows and (since := self._frozen_since()) is not None:
            self.doubt.hand.forget_since(since)
        said = self.doubt.hear(self.judge, self.sick, self.electrode, self.interval)
        if said is not None and said[1] < self.limits.ph_low:
            self.current_at, self.current = said
        effects: list[Day | Forecast] = list(self.slide.forecasts(at))
        while (day := self.rhythm.close(at, self.interval)) is not None:
            effects.append(day)
        return effects

    def _follow(self, point: Point) -> None:
        self.current, self.current_at = point.newest, point.newest_at
        if point.newest <= VERY_HIGH or self.doubted or self.leapt_at is not None:
            self.lower_at = point.newest_at
        self.doubt.regained.push(point.newest_at, point.newest)
        if self.doubt.regained.lost:
            self.doubted = True
            return
        day, grain = self.rhythm.day, self.grain
        if self.shift_since is None:
            self.rhythm.smoothed(point)
            self.swing.push(point.at, point.value)
            level = self.drop.level()
            if day is not None and self.rhythm.learning and self.doubt.push(point, day, level, self.interval):
                self.drop.forget(point.at)
            self._believe_again(point.newest_at)
            if day is not None and self.rhythm.learning and not self.doubt.set_aside:
                self.slide.push(point, day, self.doubt.hand.error(point.at), grain, self.twin.unshared)
        if day is not None:
            drop, phase = self.drop, self.drop.phase
            drop.push(point, day, self.interval, grain, self.hiss)
            if drop.phase != phase and (change := drop.changed(phase)) is not None:
                self.doubt.hand.follow(point.at, change, 1 / PHASES)
            if self.shift_since is None and self.rhythm.learning:
                self.doubt.rise.leap(point.at, point.value, drop.leap(grain))
                newest, rest = (point.newest_at, point.newest, grain), self.doubt.rest
                rest.push(*newest, drop.phase, drop.profile, slow=self.interval > MINUTE_MS, hiss=self.hiss)

    def _see_turn(self, at: int, value: float) -> None:
        if self.turn.latest and at <= self.turn.latest[-1][0]:
            return
        usual = self.drop.usual()
        known, level = (0.0, 0.0) if usual is None else (usual.rises[-1], usual.level)
        self.turn.push(at, value, self.interval, grain=self.grain, hiss=self.hiss, known=known, usual=level)

    def _believe_again(self, at: int) -> None:
        """Where what contradicted the probe is over, what it said meanwhile is compared with nothing later."""
        doubted, self.doubted = self.doubted, self.doubt.stands(at)
        if doubted and not self.doubted:
            self.forget(at)

    def warm(self, celsius: float | None) -> None:
        """The water's temperature now [degC]; None while no thermometer says."""
        self.slide.tonight.water_c = celsius

    def live(self, at: int) -> bool:
        """Whether the newest good pH is recent enough to judge the present by."""
        return self.current is not None and at - self.current_at <= min(LIVE_MS, self.patience) + MINUTE_MS

    def unlike(self) -> float | None:
        """How far the present pH lies from what is usual at this hour of the sun; None while that is not known."""
        usual = self.drop.level()
        return None if usual is None or self.current is None else abs(self.current - usual)

    def tested(self, at: int, ph: float) -> None:
        """Somebody measured `ph` by hand at `at` [ms]."""
        if self.current is not None and self.live(at):
            self.doubt.tested(at, self.current - ph)
            if self.doubt.hand.error(at):
                self.slide.begin_anew()
            self.electrode.compare(at, ph, self.current)

    def retested(self, at: int, ph: float | None, now: int) -> None:
        """The test by hand of `at` [ms] measured `ph`, as was said later; None for none at all."""
        by_probe = self.electrode.amend(at, ph, now)
        if by_probe is not None:
            self.doubt.hand.amend(at, None if ph is None else by_probe - ph)

    def moves(self, at: int) -> bool:
        """Whether the reading rests no longer than this probe's readings usually do."""
        return self.judge.flat.rests_as_usual(at)

    @property
    def grain(self) -> float:
        """One count of its converter [pH]; 0.0 while that is not known."""
        return abs(self.electrode.change_ph(self.judge.noise.grain or 0.0))

    @property
    def hiss(self) -> float:
        """How it usually trembles from one reading to the next [pH]."""
        return abs(self.electrode.change_ph(self.judge.noise.usual()))

    @property
    def faulty(self) -> bool:
        """Whether it is plainly ill by its own signs, or stands still while it should move."""
        return self.sick.sure or self.doubt.rest.since is not None

    def _frozen_since(self) -> int | None:
        """Since when [ms] it has stood still as no water does; None where it does not."""
        flat = bool(self.sick.latest) and self.sick.latest[-1] == Reason.FLAT
        return self.judge.flat.since if flat else self.doubt.rest.since

    @property
    def leapt_at(self) -> int | None:
        """When it last leapt from one reading to the next [ms], if within an hour (of a slow probe longer)."""
        step, at = self.judge.step, self.current_at
        return step.leapt_at if step.leapt(at) else step.wondered_at if step.wondered(at) else None

    def beside(self, at: int, value: float | None, interval: int) -> None:
        """The other pH probes say `value` this minute; None where they are not to be believed."""
        self.doubt.rest.compare(at, value, self.grain, interval)

    @property
    def twin(self) -> Twin:
        """What the other pH probes say of this one."""
        return self.doubt.twin

    def conditions(self, at: int, deadbands: Mapping[str, float]) -> list[tuple[str, Condition]]:
        """As `Watch.conditions`, with the pH alarms."""
        silence, sick = super().conditions(at, deadbands)
        sick = ("probe-suspect", Condition.MET) if self.doubt.stands(at) else sick
        swing, wide = self.swing.figure(at), Condition.UNKNOWN
        if swing is not None:
            wide = high_side(swing, self.limits.swing_wide, deadbands["wide-swing"])
        due = Condition.MET if self.electrode.reasons else Condition.CLEAR
        return [silence, sick, *present(self, at, deadbands), ("wide-swing", wide), ("calibration-due", due)]

    def ill(self, at: int) -> bool:
        """Whether it is plainly ill: by its readings, or since they climbed in the dark as water does not."""
        return self.doubt.rise.climbed or self.sick.untold(at, self.judge)

    def shown(self, measured: float) -> float:
        """As `Watch.shown`: pH by the calibration in force."""
        return self.electrode.ph(measured)

    def rebase(self, change: float, at: int, *, calibrated: bool = True) -> None:
        """What is measured means `change` pH more from now on: what lies behind is seen in the new light."""
        for each in (self.swing, self.drop, self.slide.tonight, self.rhythm, self.doubt.rise):
            each.shift(change)
        if calibrated:
            self.doubt.forget()
        self.forget(at)

    def finding(self, alarm: str, condition: Condition, at: int) -> Finding:
        """As `Watch.finding`, for the pH alarms too."""
        if alarm == "probe-suspect":
            own = condition is not Condition.MET or super().conditions(at, {})[1][1] is Condition.MET
        else:
            own = alarm == "no-data" or (self.current is None and alarm != "calibration-due")
        return super().finding(alarm, condition, at) if own else fact(self, alarm, condition, at)
