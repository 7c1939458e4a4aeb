"""The watch over ammonia: the last test's total, and how much of it is poisonous where the pH of this pond goes.

The same total is harmless at dawn and poisonous at dusk, so it is judged at the highest pH of the last days and in the
water's own warmth. It is known only as long as the test is fresh: three days, and not across a crash, when the filter
stops and ammonia builds up. An alarm that stands when the test grows stale stands on until a new test, for two weeks.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from math import prod
from typing import TYPE_CHECKING, Any, Final

from dawnline.duration import DAY_MS, HOUR_MS
from dawnline.event import Act, Priority
from dawnline.logbook import acts
from dawnline.logbook.ledger import about
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.settings import LimitSettings, PondSettings
from dawnline.outlook.sun import Sun
from dawnline.reading import Flag
from dawnline.state import Stateful
from dawnline.water.ammonia import HARMFUL_FROM, unionised_mg_l
from dawnline.water.ammonia_criteria import acute_criterion, chronic_criterion

if TYPE_CHECKING:
    from dawnline.outlook.ph_watch import PhWatch
    from dawnline.outlook.thermometer import Thermometer

ALARM: Final = "ammonia"
LOW, MEDIUM, HIGH = HARMFUL_FROM, 0.05, 0.1  # mg/L un-ionised, as N; common practice in fish culture, no source
FRESH_MS: Final = 3 * DAY_MS
STANDS_MS: Final = 14 * DAY_MS  # how long an alarm outlasts a test that has grown stale
DAYS_BACK: Final = 3  # whose highest pH counts
CRASH_DEADBAND: Final = 0.2  # pH
CHANGES_KEPT: Final = 30
BACKDATED_MS: Final = HOUR_MS  # a test from longer ago says nothing of a crash in between
PRESUMED_C: Final = 25.0  # where nobody knows how warm the water is: on the safe side


class AmmoniaWatch(Stateful):
    """The last test of total ammonia in one pond, and what it means."""

    KEPT = (
        "total", "tested_at", "tested_c", "tested_ph", "days", "celsius", "crashed", "outdated", "due", "thinned",
        "condition", "priority", "since", "value", "text", "tested_total", "test", "changes",
    )  # fmt: skip

    def __init__(self, sun: Sun, limits: LimitSettings) -> None:
        self.zone = sun.zone
        self.limits = limits
        self.total: float | None = None  # of the last test, less what has been changed since [mg/L as N]
        self.tested_at = 0
        self.tested_c: float | None = None
        self.tested_ph: float | None = None
        self.days: list[tuple[int, float | None, float | None]] = []  # start, dawn low, dusk high of the last days
        self.celsius: float | None = None  # as last read
        self.crashed = False  # the pH is below the crash limit, or was and has not come back
        self.outdated = False  # there was a crash since the test
        self.due = False  # something is new since it was judged
        self.thinned = False  # water was changed since the test
        self.condition = int(Condition.UNKNOWN)
        self.priority: Priority = "low"
        self.since = 0
        self.value: float | None = None
        self.text = ""
        self.tested_total = 0.0  # as the test said [mg/L as N]
        self.test = ""  # the act it came from
        self.changes: list[tuple[str, int, float]] = []  # the last water changes: act, time, share

    def enter(self, act: Act, entry: acts.Entry, pond: PondSettings) -> None:
        """What an act in the logbook says of ammonia, at the time it is about."""
        at = about(entry, act.at)
        match entry:
            case acts.Correct():
                self._forget(entry.entry)
                self.enter(Act(entry.entry, entry.at, entry.kind, entry.body), entry.corrected, pond)
            case acts.Withdraw():
                self._forget(entry.entry)
            case acts.HandTest(tan_mg_l=float(total)) if self.total is None or at >= self.tested_at:
                self.tested_total, self.tested_at, self.test = total, at, act.id
                self.outdated = self.outdated and at < act.at - BACKDATED_MS
                self.tested_c, self.tested_ph = entry.temperature_c, entry.ph
                self._reckon()
            case acts.WaterChange():
                litres = entry.litres if entry.litres is not None and pond.volume_litres else None
                share = entry.share or (min(litres / pond.volume_litres, 1.0) if litres and pond.volume_litres else 0.0)
                self.changes = [*self.changes, (act.id, at, share)][-CHANGES_KEPT:]
                if self.total is not None:
                    self._reckon()

    def _forget(self, act_id: str) -> None:
        """What came from this act never was: it was withdrawn, or is entered again as corrected."""
        self.changes = [row for row in self.changes if row[0] != act_id]
        if act_id == self.test:
            self.total, self.test, self.condition = None, "", int(Condition.CLEAR)
            self.text = "the test of ammonia was withdrawn: test again"
        elif self.total is not None:
            self._reckon()

    def _reckon(self) -> None:
        """The total of the test, less the water changed since."""
        since = [share for _, at, share in self.changes if at > self.tested_at]
        self.total = self.tested_total * prod(1.0 - share for share in since)
        self.thinned, self.due = bool(since), True

    def fresh(self, at: int) -> bool:
        """Whether the total is still known at `at` [ms]."""
        return self.total is not None and at - self.tested_at <= FRESH_MS and not self.outdated

    def minute(self, at: int, probes: Iterable[PhWatch], thermometers: Iterable[Thermometer]) -> None:
        """A whole minute has passed: follow the pH; judge by the hour, and at once where there is something new."""
        hour = at % HOUR_MS == 0
        if self.total is None and not hour:
            return
        for watch in probes:
            if watch.current is None or watch.doubt.overruled or not watch.live(at):
                continue
            if not watch.doubt.hand.too_far(at):
                self._crash(watch.current - watch.doubt.hand.error(at))
            if hour and watch.rhythm.day is not None:
                self._day(watch.rhythm.day_start, watch.rhythm.low, watch.rhythm.high)
        if self.total is not None and (hour or self.due):
            self.due = False
            warm = [t.newest[1] for t in thermometers if t.newest and t.newest[2] == Flag.GOOD]
            self.celsius = max(warm) if warm else self.tested_c
            self._judge(at, [w.current for w in probes if w.current is not None and w.live(at)])

    def _crash(self, ph: float) -> None:
        if not self.crashed and ph < self.limits.ph_crash:
            self.crashed = self.outdated = self.due = True
        elif self.crashed and ph > self.limits.ph_crash + CRASH_DEADBAND:
            self.crashed = False

    def _day(self, start: int, low: float | None, high: float | None) -> None:
        """The lowest dawn and the highest dusk of a day, over all probes."""
        before = [day for day in self.days if day[0] == start]
        lows = [x for x in (low, *(day[1] for day in before)) if x is not None]
        highs = [x for x in (high, *(day[2] for day in before)) if x is not None]
        kept = [day for day in self.days if start - DAYS_BACK * DAY_MS <= day[0] != start]
        self.days = [*kept, (start, min(lows, default=None), max(highs, default=None))]

    def _judge(self, at: int, now: list[float]) -> None:
        was_met = self.condition == Condition.MET
        if not self.fresh(at):
            stands = was_met and at - self.tested_at <= STANDS_MS
            after = Condition.CLEAR if was_met else Condition(self.condition)
            self.condition = int(Condition.MET if stands else after)
            self.text = f"{self._tested()}: no longer known, {self._why_stale()}; test ammonia again"
            return
        highs = [day[2] for day in self.days if day[2] is not None] + now
        dusk = max(highs) if highs else self.tested_ph
        if dusk is None or self.total is None:
            self.condition, self.text = int(Condition.UNKNOWN), f"{self._tested()}; no pH is known"
            return
        celsius = min(max(PRESUMED_C if self.celsius is None else self.celsius, 0.0), 50.0)
        self.value = unionised_mg_l(self.total, dusk, celsius)
        self.condition = int(Condition.MET if self.value >= LOW else Condition.CLEAR)
        self.priority = "high" if self.value >= HIGH else "medium" if self.value >= MEDIUM else "low"
        self.text = self._evidence(dusk, celsius)
        if self.condition == Condition.MET and not was_met:
            self.since = at

    def _evidence(self, dusk: float, celsius: float) -> str:
        assert self.total is not None
        assert self.value is not None
        warmth = f"{celsius:.0f} degC" + (" assumed" if self.celsius is None else "")
        text = f"un-ionised ammonia {self.value:.3f} mg/L as N at the highest pH of these days ({dusk:.2f}, {warmth})"
        lows = [day[1] for day in self.days if day[1] is not None]
        if lows:
            text += f", {unionised_mg_l(self.total, min(lows), celsius):.3f} at the lowest ({min(lows):.2f})"
        text += f"; {self._tested()}"
        acute, chronic = acute_criterion(dusk, celsius), chronic_criterion(dusk, celsius)
        if self.total >= acute:
            text += f"; beyond {acute:.2g} mg/L, where the US EPA's acute criterion of 2013 marks serious harm"
        elif self.total >= chronic:
            text += f"; beyond {chronic:.2g} mg/L, where the US EPA's chronic criterion of 2013 marks harm over weeks"
        return text

    def _tested(self) -> str:
        on = datetime.fromtimestamp(self.tested_at / 1000, self.zone)
        less = ", less the water changed since" if self.thinned else ""
        return f"{self.total or 0.0:.2g} mg/L in all as N by the test of {on:%Y-%m-%d %H:%M}{less}"

    def _why_stale(self) -> str:
        return "after a crash ammonia builds up" if self.outdated else "the test is more than three days old"

    def body(self, at: int) -> dict[str, Any]:
        """What is known at `at` [ms], for those who show it; nothing before the first test."""
        if self.total is None:
            return {}
        figures = {
            "total_mg_l": round(self.total, 4),
            "unionised_mg_l": None if self.value is None else round(self.value, 5),
        }
        return {**figures, "fresh": self.fresh(at), "text": self.text}

    def finding(self, at: int) -> Finding:
        """How the alarm stands at `at`."""
        condition = Condition(self.condition)
        since = self.since if condition is Condition.MET else None
        return Finding(ALARM, None, at, condition, self.value, self.text, self.priority, since=since)

    def graver(self, finding: Finding) -> Finding:
        """A pH above its limit weighs more where there is ammonia that it makes poisonous."""
        ph = finding.value
        if finding.condition is not Condition.MET or ph is None or self.total is None or not self.fresh(finding.at):
            return finding
        celsius = min(max(PRESUMED_C if self.celsius is None else self.celsius, 0.0), 50.0)
        poison = unionised_mg_l(self.total, min(max(ph, 0.0), 14.0), celsius)
        if poison < LOW:
            return finding
        text = f"{finding.evidence}; {poison:.3f} mg/L of un-ionised ammonia at this pH"
        return finding._replace(priority="medium", evidence=text)
