"""The watch over the pond's buffer: a line for each pH probe, one forecast a morning, one alarm by day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from statistics import median
from typing import TYPE_CHECKING, Any, Final

from dawnline.duration import HOUR_MS
from dawnline.event import Forecast, Priority
from dawnline.outlook import buffer_words
from dawnline.outlook.buffer_line import BufferLine, Outlook
from dawnline.outlook.finding import Condition, Finding
from dawnline.outlook.settings import LimitSettings
from dawnline.outlook.sun import PondDay, Sun
from dawnline.reading import Flag
from dawnline.state import Stateful

if TYPE_CHECKING:
    from dawnline.outlook.ph_watch import PhWatch
    from dawnline.outlook.thermometer import Thermometer

ALARM: Final = "buffer-running-out"
LOW_WITHIN, MEDIUM_WITHIN, HIGH_WITHIN = 14, 5, 2  # days: `latest`, the central date, `earliest`
HIGH_ABOVE, MEDIUM_ABOVE = 0.6, 1.0  # pH above the limit that the last low may lie at these priorities
DEADBAND: Final = 1  # days
AFTER_SUNRISE_MS: Final = 2 * HOUR_MS
EVIDENCE_NIGHTS: Final = 14
MOVED_DAYS: Final = 2  # a date that moves so far asks for a check


class BufferWatch(Stateful):
    """All buffer lines of one pond. The first probe that can say something speaks for the pond."""

    KEPT = ("closed", "warmth", "latest", "evidence", "condition", "priority", "since", "value", "text")

    def __init__(self, probes: Iterable[str], sun: Sun, limits: LimitSettings) -> None:
        self.sun = sun
        self.limits = limits
        self.lines = {probe: BufferLine(limits.ph_low) for probe in probes}
        self.closed = 0  # start of the pond day whose dawn window was closed last [ms]
        self.warmth: list[float] = []  # the water since the last closing, by the hour [degC]
        self.latest: dict[str, Any] = {}  # the body of the latest forecast
        self.evidence: dict[str, Any] = {}
        self.condition = int(Condition.UNKNOWN)
        self.priority: Priority = "low"
        self.since = 0
        self.value: float | None = None  # days to the central date, else to the latest
        self.text = ""
        self._quiet_until = 0  # until when no dawn window closes [ms]; worked out anew after a restart
        self._day: PondDay | None = None  # of the finding asked for last; likewise

    def save(self) -> dict[str, Any]:
        """As `Stateful.save`, with the lines."""
        return {**super().save(), "lines": {probe: line.save() for probe, line in self.lines.items()}}

    def restore(self, saved: dict[str, Any]) -> None:
        """As `Stateful.restore`; a probe that is new begins anew, one that is gone is forgotten."""
        super().restore(saved)
        for probe, line in self.lines.items():
            if probe in saved["lines"]:
                line.restore(saved["lines"][probe])

    def minute(self, at: int, probes: Iterable[PhWatch], thermometers: Iterable[Thermometer]) -> list[Forecast]:
        """A whole minute has passed; gives the forecast where a dawn window has just closed."""
        hour = at % HOUR_MS == 0
        if at < self._quiet_until and not hour:
            return []
        if hour:
            self.warmth += [t.newest[1] for t in thermometers if t.newest and t.newest[2] == Flag.GOOD][:1]
            del self.warmth[:-24]
        days = [watch.rhythm.day for watch in probes if watch.rhythm.day is not None]
        if not days:
            return []
        self._quiet_until = days[0].dawn[1] if days[0].start > self.closed else days[0].end
        if at < self._quiet_until:
            return []
        self._quiet_until = days[0].end
        self.closed = days[0].start
        water_c = median(self.warmth) if self.warmth else None
        self.warmth = []
        doubted = {watch.probe: watch.doubt.evidence(at) for watch in probes if watch.doubt.stands(at)}
        said = [(watch.probe, self._night(watch, water_c)) for watch in probes]
        probe, outlook = min(said, key=lambda row: (bool(row[1].why_not), row[0] in doubted))
        return [self._say(probe, outlook, at, days[0].date, doubted.get(probe))]

    def _night(self, watch: PhWatch, water_c: float | None) -> Outlook:
        low = watch.rhythm.dawn_low
        if low is None:
            return Outlook(why_not="too few good readings in the dawn window")
        return self.lines[watch.probe].night(low[0], low[1], water_c)

    def _say(self, probe: str, outlook: Outlook, at: int, today: date, doubt: str | None) -> Forecast:
        def on(days: int | None) -> str | None:
            return None if days is None else (today + timedelta(days=days)).isoformat()

        moved = self._moved(on(outlook.central))
        self.latest = {
            "reaches_low_on": on(outlook.central),
            "earliest": on(outlook.earliest),
            "latest": on(outlook.latest),
            "lead_days": outlook.central,
            "trend": outlook.trend,
            "probe": probe,
            "text": buffer_words.say(outlook, self.limits.ph_low, today, moved)
            + buffer_words.caveat(outlook, probe, doubt),
        }
        nights = list(self.lines[probe].diary.nights)[-EVIDENCE_NIGHTS:]
        fitted = outlook.fitted[-EVIDENCE_NIGHTS:] or (None,) * len(nights)
        self.evidence = {
            "nights": [
                (datetime.fromtimestamp(night[0] / 1000, self.sun.zone).date().isoformat(), round(night[1], 3),
                 None if fit is None else round(fit, 3))
                for night, fit in zip(nights, fitted, strict=True)
            ],
            **buffer_words.figures(outlook),
        }  # fmt: skip
        self._judge(outlook, nights[-1][1] if nights else self.limits.ph_low, at)
        return Forecast("buffer", at, self.latest, self.evidence)

    def _moved(self, central: str | None) -> int:
        """By how many days the central date has moved since the last forecast; later is positive."""
        before = self.latest.get("reaches_low_on")
        if before is None or central is None:
            return 0
        days = (date.fromisoformat(central) - date.fromisoformat(before)).days
        return days if abs(days) >= MOVED_DAYS else 0

    def _judge(self, outlook: Outlook, low: float, at: int) -> None:
        before = self.condition
        self.condition = int(_condition(outlook))
        self.value = outlook.latest if outlook.central is None else outlook.central
        self.text = self.latest["text"]
        self.priority = _priority(outlook, low - self.limits.ph_low)
        if self.condition == Condition.MET and before != Condition.MET:
            self.since = at

    def finding(self, at: int) -> Finding | None:
        """How the alarm stands at `at`; None by night, when nobody is told."""
        if self._day is None or not self._day.start <= at < self._day.end:
            self._day = self.sun.day_at(at)
        if not self._day.sunrise + AFTER_SUNRISE_MS <= at < self._day.sunset:
            return None
        condition = Condition(self.condition)
        since = self.since if condition is Condition.MET else None
        return Finding(ALARM, None, at, condition, self.value, self.text, self.priority, since=since)

    # ------------------------------------------------------------ what the logbook says

    def of(self, probe: str | None = None) -> list[BufferLine]:
        """The line of one probe, or of all for an act at the water."""
        return list(self.lines.values()) if probe is None else [self.lines[probe]] if probe in self.lines else []

    def checked(self, probe: str, at: int, offset: float) -> None:
        """`probe` was checked in a buffer solution and read `offset` [pH] too much."""
        for line in self.of(probe):
            line.checked(at, offset)


def _condition(outlook: Outlook) -> Condition:
    if outlook.why_not:
        return Condition.UNKNOWN
    if outlook.latest is None or outlook.latest > LOW_WITHIN + DEADBAND:
        return Condition.CLEAR
    return Condition.MET if outlook.latest <= LOW_WITHIN else Condition.BETWEEN


def _priority(outlook: Outlook, above: float) -> Priority:
    """How urgent it is, with the last low `above` the limit [pH].

    Where the buffer would have to lose three quarters within two days (0.6 pH), or nine tenths within five (1.0), the
    line is likelier wrong than the water: then it is said, and wakes nobody.
    """
    if outlook.earliest is not None and outlook.earliest <= HIGH_WITHIN and above <= HIGH_ABOVE:
        return "high"
    soon = outlook.central is not None and outlook.central <= MEDIUM_WITHIN
    return "medium" if soon and above <= MEDIUM_ABOVE else "low"
